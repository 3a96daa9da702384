#include <catch2/catch.hpp>

#include "live_judging.hpp"

using namespace cvrig::test_support;

namespace {

const std::vector<std::string> a_short_run{"--check", "level", "--set", "mode=tied"};
// Takes of some 20 s of the module's time in all.
const std::vector<std::string> a_longer_run{"--check", "tracking", "--set", "mode=tied"};

}  // namespace

TEST_CASE("a console that babbles at full speed does not stop a run") {
    judging_bench bench{true, {"babble=1"}};
    const auto run = bench.judge(a_short_run);
    INFO(run.said);
    CHECK((run.status == 0 || run.status == 3));
    CHECK(run.wall_seconds < 55.0);
}

TEST_CASE("a console that falls silent leaves the run unsure") {
    judging_bench bench{true, {"mute-after=3"}};
    const auto run = bench.judge(a_short_run);
    INFO(run.said);
    CHECK(run.status == 3);
    CHECK(run.tells("answer"));
}

TEST_CASE("a module that starts again in mid-run fails it, and the console is the witness") {
    judging_bench bench{true, {"reset-after=12"}};
    const auto run = bench.judge(a_longer_run);
    INFO(run.said << run.log);
    CHECK(run.status == 1);
    CHECK(run.tells("resets"));
}

TEST_CASE("a console that goes and comes back is found again, and its take is not believed") {
    judging_bench bench{false, {"gone-after=9", "gone-seconds=1"}};
    const auto run = bench.judge(a_longer_run);
    INFO(run.said << run.log);
    CHECK((run.status == 0 || run.status == 3));
    CHECK(run.tells("back"));
}
