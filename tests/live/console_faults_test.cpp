#include <catch2/catch.hpp>

#include "live_judging.hpp"

using namespace cvrig::test_support;

namespace {

const std::vector<std::string> a_short_run{"--check", "level", "--set", "mode=tied"};
// From some 7 to some 10 s of the module's time.
const std::vector<std::string> a_longer_run{"--check", "retrigger", "--set", "mode=tied"};
// From then on for half a minute: what happens in mid-run need not be aimed at.
const std::vector<std::string> a_long_run{"--check", "pattern", "--set", "mode=tied"};

}  // namespace

// What the demands on the file's own checks came to; the console's finding stands beside them.
std::size_t count_of(const judged_run& run, const std::string& check, const std::string& verdict) {
    std::size_t n = 0;
    for (const auto& c : run.report.at("checks"))
        for (const auto& f : c.at("findings"))
            n += c.at("check") == check && f.at("verdict") == verdict ? 1u : 0u;
    return n;
}

// A console that babbles at full speed stops no run: every take is played and judged, and what is
// left in doubt is only whether a restart went unheard.
TEST_CASE("a console that babbles at full speed leaves open whether the module restarted") {
    judging_bench bench{true, {"babble=1"}};
    const auto run = bench.judge(a_short_run);
    INFO(run.said);
    CHECK(run.status == 3);
    CHECK(run.tells("lines in one second unasked"));
    CHECK(count_of(run, "level", "pass") > 0);
    CHECK(count_of(run, "level", "unsure") == 0);
    CHECK(count_of(run, "console", "unsure") == 1);
}

TEST_CASE("a console that falls silent leaves the run unsure") {
    judging_bench bench{true, {"mute-after=3"}};
    const auto run = bench.judge(a_short_run);
    INFO(run.said);
    CHECK(run.status == 3);
    CHECK(run.tells("answer"));
}

TEST_CASE("a module that starts again in mid-run fails it, and the console is the witness") {
    judging_bench bench{true, {"reset-after=20"}};
    const auto run = bench.judge(a_long_run);
    INFO(run.said << run.log);
    CHECK(run.status == 1);
    CHECK(run.tells("resets"));
}

TEST_CASE("a console that goes and comes back is found again, and leaves the restart open") {
    judging_bench bench{false, {"gone-after=9", "gone-seconds=1"}};
    const auto run = bench.judge(a_longer_run);
    INFO(run.said << run.log);
    CHECK(run.status == 3);
    CHECK(run.tells("The console came back"));
    // The take was in doubt and has been played again.
    CHECK(count_of(run, "retrigger", "pass") > 0);
    CHECK(count_of(run, "retrigger", "unsure") == 0);
    CHECK(count_of(run, "console", "unsure") == 1);
}
