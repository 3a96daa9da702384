#include <unistd.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <cmath>
#include <csignal>
#include <future>
#include <thread>

#include "rig/link/audio_link.hpp"
#include "rig/link/rt_audio_interface.hpp"
#include "tests/support/jack_bench.hpp"

using namespace cvrig;
using namespace cvrig::test;
using namespace std::chrono_literals;
using Catch::Matchers::Contains;

namespace {

stimulus tone(double length_s) {
    stimulus s;
    s.jacks = {"a", "b"};
    s.volts.resize(2);
    for (int i = 0; i < static_cast<int>(48000.0 * length_s); ++i) {
        s.volts[0].push_back(static_cast<float>(2.0 * std::sin(0.05 * i)));
        s.volts[1].push_back(static_cast<float>(std::sin(0.01 * i)));
    }
    return s;
}

std::string all(const take& t) {
    std::string out = t.log;
    for (const auto& p : t.problems) out += p + "\n";
    return out;
}

/// SIGSTOP for this process, by a child that wakes it again.
void stop_this_process() {
    const auto pid = std::to_string(::getpid());
    child stopper{{"/bin/sh", "-c", "kill -STOP " + pid + "; sleep 0.3; kill -CONT " + pid}};
    (void)stopper.wait_for_end();
}

/// Plays one second with a fault that `fault` makes after 0.3 s; not repeated.
template <class Fault>
take take_with(jack_bench& server, const bench& b, const Fault& fault) {
    rt_audio_interface desk{b};
    audio_link link{desk, b, {.recorded = {"left", "right"}, .stop = {}, .repeats = 0}};
    auto playing = std::async(std::launch::async, [&] { return link.play(tone(1.0), {}, 1, 1); });
    std::this_thread::sleep_for(300ms);
    fault();
    REQUIRE(playing.wait_for(8s) == std::future_status::ready);
    (void)server;
    return playing.get();
}

}  // namespace

TEST_CASE("live: a whole take is aligned to the sample", "[live]") {
    jack_bench server;
    const auto b = server.read(", simulated: yes");
    rt_audio_interface desk{b};
    audio_link link{desk, b, {.recorded = {"right", "left"}, .stop = {}}};
    const auto s = tone(1.0);
    for (int number = 1; number <= 2; ++number) {
        const auto t = link.play(s, {}, number, 1);
        CAPTURE(all(t));
        REQUIRE(t.problems.empty());
        REQUIRE(t.heard.size() == 2);
        REQUIRE(t.heard[0].size() == s.size());
        double worst = 0.0;
        for (std::size_t i = 0; i < s.size(); ++i) {
            worst = std::max(worst, std::abs(double{t.heard[1][i]} - s.volts[0][i]));
            worst = std::max(worst, std::abs(double{t.heard[0][i]} - s.volts[1][i]));
        }
        CHECK(worst < 1e-6);  // roundings of a float below 2 V
    }
}

TEST_CASE("live: a server that dies in a take ends it within seconds, and a new one is found",
          "[live]") {
    jack_bench server;
    const auto b = server.read(", simulated: yes");
    rt_audio_interface desk{b};
    audio_link link{desk, b, {.recorded = {"left"}, .stop = {}, .repeats = 0}};
    auto playing = std::async(std::launch::async, [&] { return link.play(tone(1.0), {}, 1, 1); });
    std::this_thread::sleep_for(300ms);
    server.kill_server();
    REQUIRE(playing.wait_for(5s) == std::future_status::ready);
    const auto t = playing.get();
    CAPTURE(all(t));
    REQUIRE(t.problems.size() == 1);
    CHECK_THAT(t.problems.front(), Contains("The audio interface or its server was gone at 0."));
    CHECK(t.heard.empty());
    server.start_server();
    server.start_desk();
    const auto again = link.play(tone(0.3), {}, 2, 1);
    CAPTURE(all(again));
    CHECK(again.heard.size() == 1);
}

TEST_CASE("live: a stop of the server for 200 ms is seen", "[live]") {
    jack_bench server;
    const auto b = server.read();
    const auto t = take_with(server, b, [&] {
        server.server().signal(SIGSTOP);
        std::this_thread::sleep_for(200ms);
        server.server().signal(SIGCONT);
    });
    CAPTURE(all(t));
    REQUIRE_FALSE(t.problems.empty());
    CHECK_THAT(all(t), Contains("The stream stood still for 2") ||
                           Contains("The stream stood still for 1"));
}

TEST_CASE("live: an interface that goes in a take is seen in the loop-back", "[live]") {
    // The server lives on, and so does the stream; only its cables are gone.
    jack_bench server{"48000", false};
    const auto b = server.read(", simulated: yes");
    const auto t = take_with(server, b, [&] { server.desk().signal(SIGKILL); });
    CAPTURE(all(t));
    REQUIRE_FALSE(t.problems.empty());
    CHECK_THAT(t.problems.front(),
               Catch::Matchers::Matches("[0-9]+ samples of the loop-back at 0\\.[0-9]+ s are not "
                                        "what was sent\\."));
}

TEST_CASE("live: a stop of the rig itself is noted, and loses nothing if the server waits",
          "[live]") {
    jack_bench server;
    const auto b = server.read(", simulated: yes");
    const auto t = take_with(server, b, stop_this_process);
    CAPTURE(all(t));
    CHECK(t.problems.empty());
    CHECK_THAT(t.log, Contains("The stream stood still for "));
}

TEST_CASE("live: a stop of the rig itself makes the take bad on a real interface", "[live]") {
    // JACK 2 does not throw a stopped client out: it skips blocks for all its clients together. So
    // between them nothing is lost, and only the gap tells what a real interface lost meanwhile.
    jack_bench server{"48000", false};
    const auto b = server.read();
    const auto t = take_with(server, b, stop_this_process);
    CAPTURE(all(t));
    REQUIRE_FALSE(t.problems.empty());
    CHECK_THAT(t.problems.front(), Contains("The stream stood still for "));
}

TEST_CASE("live: a server at another rate is refused with both rates", "[live]") {
    jack_bench server{"44100"};
    const auto b = server.read();
    CHECK_THROWS_WITH(rt_audio_interface{b},
                      Contains("The audio device 'desk' cannot be used: it does not run at 48 kHz, "
                               "only at 44.1 kHz."));
}

TEST_CASE("live: an unknown interface is refused with a list of what there is", "[live]") {
    jack_bench server;
    auto b = server.read();
    b.audio->device = "stage box";
    CHECK_THROWS_WITH(rt_audio_interface{b},
                      Contains("There is no audio device 'stage box' by way of jack; there are "
                               "'system' (jack) and 'desk' (jack)"));
}
