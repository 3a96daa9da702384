#include "rig/platform/followed_program.hpp"

#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <string>
#include <vector>

namespace {

using namespace cvrig;
using namespace std::chrono_literals;
using words = std::vector<std::string>;

/// Everything that it tells, and how it ends; gives up after 10 s.
struct heard {
    words lines;
    program_end end;
    bool has_ended{false};
};

heard hear_out(followed_program& p) {
    heard out;
    const auto until = std::chrono::steady_clock::now() + 10s;
    while (!out.has_ended && std::chrono::steady_clock::now() < until) {
        for (auto& line : p.lines(20ms)) out.lines.push_back(std::move(line));
        if (const auto end = p.end()) {
            out.end = *end;
            out.has_ended = true;
        }
    }
    for (auto& line : p.lines(0ms)) out.lines.push_back(std::move(line));
    return out;
}

words shell(const std::string& script) {
    return {"/bin/sh", "-c", script};
}

}  // namespace

TEST_CASE("lines told on descriptor 3 come apart from what is printed", "[platform][followed]") {
    followed_program p{shell("echo first >&3; echo printed; echo wrong >&2; echo second >&3; "
                             "exit 3"),
                       {}};
    const auto all = hear_out(p);
    REQUIRE(all.has_ended);
    CHECK(all.lines == words{"first", "second"});
    CHECK(all.end.exited);
    CHECK(all.end.status == 3);
    CHECK(p.said() == "printed\n");
    CHECK(p.complaints() == "wrong\n");
}

TEST_CASE("a program reads the answers that it is given", "[platform][followed]") {
    followed_program p{shell("echo ready >&3; read answer; echo got $answer >&3"), {}};
    words lines;
    while (lines.empty() && !p.end()) lines = p.lines(50ms);
    p.write("done\n");
    const auto all = hear_out(p);
    CHECK(lines == words{"ready"});
    CHECK(all.lines == words{"got done"});
}

TEST_CASE("an interrupted program may tidy up before it ends", "[platform][followed]") {
    followed_program p{shell("trap 'echo tidied >&3; exit 2' INT; echo ready >&3; "
                             "while :; do sleep 0.05; done"),
                       {}};
    words lines;
    while (lines.empty() && !p.end()) lines = p.lines(50ms);
    p.interrupt();
    const auto all = hear_out(p);
    CHECK(all.lines == words{"tidied"});
    CHECK(all.end.status == 2);
}

TEST_CASE("a killed program ends by the signal, and leaves nothing of its group",
          "[platform][followed]") {
    followed_program p{shell("echo ready >&3; sleep 60"), {}};
    words lines;
    while (lines.empty() && !p.end()) lines = p.lines(50ms);
    p.kill();
    const auto all = hear_out(p);
    REQUIRE(all.has_ended);
    CHECK_FALSE(all.end.exited);
    CHECK(all.end.signal == SIGKILL);
}

TEST_CASE("a program that cannot be started says why", "[platform][followed]") {
    const followed_program p{words{"/nowhere/at/all"}, {}};
    CHECK_FALSE(p.problem().empty());
}
