#include <catch2/catch.hpp>

#include "live_judging.hpp"

using namespace cvrig::test_support;

namespace {

const std::vector<std::string> a_short_run{"--check", "level", "--set", "mode=tied"};

struct spoiled {
    std::string fault;    ///< of the interface
    std::string told_by;  ///< words of the sentence that must name it
};

}  // namespace

// Whatever is wrong with the bench, the module has not passed, and it has not failed either: a fault
// of the rig never looks like one of the firmware (exit status 3).
TEST_CASE("a spoiled interface judges nothing, and says what is wrong") {
    judging_bench bench{true};
    {
        const auto good = bench.judge(a_short_run);
        INFO(good.said);
        REQUIRE(good.status == 0);
        CHECK(good.tells("Keep loudspeakers and headphones away from the CV outputs"));
    }
    const std::vector<spoiled> all{
        {"gain@out:-50", "Only half the voltage arrives"},
        {"gain@out:-20", "a software volume or a level control"},
        {"inverted@out:1", "The loop-back comes back inverted"},
        {"resample@out:900", "resampler"},
        {"resample@out:-81250", "sample rate"},
        {"ac-coupled@out:0.1", "is AC-coupled"},
        {"hum@in:0.1", "of mains hum"},
        {"noise@in:0.3", "of foreign sound or noise"},
        {"clip@in:0.7", "its input clips"},
        {"mixer@out:10", "mixer"},
        {"cold-leg-shorted@out:1", "half"},
        // Near an end of the sequence too little is left to tell which of both it was.
        {"drop@in_3:64", "lost"},
        {"repeat@in_3:64", "repeated"},
        {"gain@out_1:-50", "half of the voltage is lost"},
        {"inverted@out_1:1", "that output is inverted"},
        {"inverted@out_2:1", "jack gate"},
    };
    for (const auto& one : all) {
        bench.parts().tell_desk("clear");
        bench.parts().tell_desk("fault " + one.fault);
        const auto run = bench.judge(a_short_run);
        INFO(one.fault << " should be told by \"" << one.told_by << "\":\n" << run.said << run.log);
        CHECK(run.status == 3);
        CHECK(run.tells(one.told_by));
    }
    bench.parts().tell_desk("clear");
    CHECK(bench.judge(a_short_run).status == 0);
}

TEST_CASE("a missing loop-back cable is said, and judges nothing on a bench that has one") {
    judging_bench bench{true};
    bench.parts().tell_desk("loop none");
    const auto run = bench.judge(a_short_run);
    INFO(run.said);
    CHECK(run.status == 3);
    CHECK(run.tells("plug in the loop-back cable"));
}

TEST_CASE("a bench without a loop-back cable judges, and says what it cannot exclude") {
    judging_bench bench{false};
    auto text = live_bench_file(", simulated: yes", "");
    const auto loop = text.find("loop-back:");
    text.erase(loop, text.find('\n', loop) - loop);
    bench.use_bench_file(text);
    const auto run = bench.judge(a_short_run);
    INFO(run.said);
    // A busy computer may be late, which such a bench must take for lost samples.
    CHECK((run.status == 0 || run.status == 3));
    CHECK(run.report.at("bench").at("account").at("cannot_exclude").size() > 0);
}

TEST_CASE("cables in the wrong jacks judge nothing, and are named") {
    judging_bench bench{true};
    bench.parts().tell_desk("cables 1:pitch,2:slide,3:accent,4:gate,5:cutoff,6:decay");
    auto run = bench.judge(a_short_run);
    INFO(run.said);
    CHECK(run.status == 3);
    CHECK(run.tells("gate"));
    bench.parts().tell_desk("cables 1:pitch,2:gate,3:accent,4:slide,5:cutoff,6:decay");
    bench.parts().tell_desk("back left:2,right:1");
    run = bench.judge(a_short_run);
    INFO(run.said);
    CHECK(run.status == 3);
    CHECK(run.tells("exchanged"));
}

TEST_CASE("one input that clips below full scale does not pass") {
    // Nothing tells it from a module that clips itself, so the run may fail.
    judging_bench bench{true};
    bench.parts().tell_desk("fault clip@in_1:2");
    const auto run = bench.judge(a_short_run);
    INFO(run.said);
    CHECK((run.status == 1 || run.status == 3));
}

TEST_CASE("a missing accent cable is doubted, and is no failure of the module") {
    judging_bench bench{true};
    bench.parts().tell_desk("cables 1:pitch,2:gate,4:slide,5:cutoff,6:decay");
    const auto run = bench.judge({"--check", "accent", "--set", "mode=tied"});
    INFO(run.said);
    CHECK(run.status == 3);
    CHECK(run.tells("Nothing was heard of jack accent"));
}
