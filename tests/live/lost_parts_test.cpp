#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <thread>

#include "live_judging.hpp"

using namespace cvrig::test_support;
using namespace std::chrono_literals;

namespace {

// One take of some 5 s after some 7 s of proofs.
const std::vector<std::string> a_longer_run{"--check", "retrigger", "--set", "mode=tied"};

// Until the take has been playing for a second.
void wait_for_take(const judging_bench& bench) {
    const bool begun = becomes_true([&] { return bench.log_says("playing take 1 of"); }, 60s);
    REQUIRE(begun);
    std::this_thread::sleep_for(1s);
}

// A bench whose module need not be waited for long.
void be_impatient(judging_bench& bench, const std::string& what = {},
                  const std::string& with = {}) {
    auto text = live_bench_file(what, with);
    const std::string console{"{terminal: \"{console}\"}"};
    const auto at = text.find(console);
    text.replace(at, console.size(), "{terminal: \"{console}\", return time: 1 s}");
    bench.use_bench_file(text);
}

}  // namespace

TEST_CASE("a server that is killed in a take leaves the run unsure") {
    judging_bench bench{false};
    be_impatient(bench);
    auto running = bench.start(a_longer_run);
    wait_for_take(bench);
    bench.parts().jackd().send(SIGKILL);
    const auto run = running.get();
    INFO(run.said);
    CHECK(run.status == 3);
}

TEST_CASE("a module that is killed in a take leaves the run unsure") {
    judging_bench bench{false};
    be_impatient(bench);
    auto running = bench.start(a_longer_run);
    wait_for_take(bench);
    bench.parts().module().send(SIGKILL);
    const auto run = running.get();
    INFO(run.said);
    CHECK(run.status == 3);
}

TEST_CASE("a server that stalls again and again leaves the run unsure") {
    judging_bench bench{false};
    be_impatient(bench, ", simulated: yes", "");
    auto running = bench.start(a_longer_run);
    while (running.wait_for(500ms) != std::future_status::ready) {
        bench.parts().jackd().send(SIGSTOP);
        std::this_thread::sleep_for(200ms);
        bench.parts().jackd().send(SIGCONT);
    }
    const auto run = running.get();
    INFO(run.said);
    CHECK(run.status == 3);
}
