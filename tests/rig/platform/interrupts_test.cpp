#include "rig/platform/interrupts.hpp"

#include <unistd.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <thread>

using namespace cvrig;
using namespace std::chrono_literals;

namespace {

bool is_asked_within(const std::stop_token& stop, std::chrono::milliseconds patience) {
    const auto until = std::chrono::steady_clock::now() + patience;
    while (!stop.stop_requested() && std::chrono::steady_clock::now() < until)
        std::this_thread::sleep_for(5ms);
    return stop.stop_requested();
}

}  // namespace

TEST_CASE("interrupts: SIGTERM asks for a stop, and ends nothing however often it comes",
          "[interrupts]") {
    const interrupts stop;
    ::kill(::getpid(), SIGTERM);
    CHECK(is_asked_within(stop.token(), 5s));
    // Once more for each thread of a starter that has died: the time to look at each has passed when
    // this ends, and the program is still there.
    for (int i = 0; i < 3; ++i) {
        ::kill(::getpid(), SIGTERM);
        std::this_thread::sleep_for(120ms);
    }
    ::kill(::getpid(),
           SIGINT);  // to the program, as from elsewhere: raise() reaches this thread alone
    std::this_thread::sleep_for(120ms);
    CHECK(stop.token().stop_requested());
}
