#include "rig/service/run_events.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <catch2/catch.hpp>
#include <csignal>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace {

using namespace cvrig;
using namespace cvrig::service;
using json = nlohmann::json;

struct pipe_of_lines {
    std::array<int, 2> ends{};
    pipe_of_lines() { REQUIRE(::pipe(ends.data()) == 0); }
    ~pipe_of_lines() {
        for (const int end : ends) ::close(end);
    }
    pipe_of_lines(const pipe_of_lines&) = delete;
    pipe_of_lines& operator=(const pipe_of_lines&) = delete;

    void say(const std::string& text) const {
        REQUIRE(::write(ends[1], text.data(), text.size()) == static_cast<ssize_t>(text.size()));
    }
    [[nodiscard]] std::vector<json> lines() const {
        ::fcntl(ends[0], F_SETFL, O_NONBLOCK);
        std::string text;
        std::array<char, 65536> chunk{};
        for (ssize_t n = 0; (n = ::read(ends[0], chunk.data(), chunk.size())) > 0;)
            text.append(chunk.data(), static_cast<std::size_t>(n));
        std::vector<json> out;
        for (std::size_t at = 0, end = 0; (end = text.find('\n', at)) != std::string::npos;
             at = end + 1)
            out.push_back(json::parse(text.substr(at, end - at)));
        return out;
    }
};

hand_result answered_with(const std::string& text) {
    const pipe_of_lines told;
    const pipe_of_lines answers;
    answers.say(text);
    run_teller teller{told.ends[1], answers.ends[0]};
    return teller.ask({"Turn the knob", 1, 3}, {"mind the knob"}, {});
}

}  // namespace

TEST_CASE("a run's steps are told in their order, and its end with its status",
          "[service][events]") {
    const pipe_of_lines told;
    {
        run_teller teller{told.ends[1]};
        teller.begin("proving");
        take_progress p;
        p.take = 2;
        p.takes = 9;
        p.checks = {"tracking", "slide"};
        p.choice = {{"mode", "tied"}};
        teller.plays(p);
        teller.begin("judging");
        teller.end(3);
    }
    const auto all = told.lines();
    REQUIRE(all.size() == 4);
    CHECK(all[0]["now"] == "proving");
    CHECK(all[1]["plays"] == "tracking, slide (mode tied)");
    CHECK(all[1]["takes"] == 9);
    CHECK(all[3] == json({{"now", "ended"}, {"status", 3}}));
}

TEST_CASE("a run that is left early has judged nothing", "[service][events]") {
    const pipe_of_lines told;
    { const run_teller teller{told.ends[1]}; }
    CHECK(told.lines().at(0) == json({{"now", "ended"}, {"status", 2}}));
}

TEST_CASE("an operator's question is answered from outside", "[service][events]") {
    using what = hand_result::what;
    CHECK(answered_with("done\n").became == what::done);
    CHECK(answered_with("skip\n").became == what::skipped);
    CHECK(answered_with("end\n").became == what::aborted);
    CHECK(answered_with("nonsense\n\ndone\n").became == what::done);
}

TEST_CASE("a reader who is gone ends nothing", "[service][events]") {
    std::array<int, 2> ends{};
    REQUIRE(::pipe(ends.data()) == 0);
    ::signal(SIGPIPE, SIG_IGN);
    ::close(ends[0]);
    {
        run_teller teller{ends[1]};
        for (int i = 0; i < 100; ++i) teller.begin("proving");
    }
    ::close(ends[1]);
    SUCCEED();
}
