// Holds 3 V and -2 V at the first two outputs of a bench, and then ends in one of many ways:
//   ways_to_end BENCH WAY
#include <algorithm>
#include <array>
#include <chrono>
#include <iostream>
#include <stdexcept>
#include <string>
#include <thread>

#include "rig/expectations/user_error.hpp"
#include "rig/link/rt_audio_interface.hpp"
#include "rig/platform/interrupts.hpp"

namespace {

using namespace cvrig;

/// A long take that only a stop ends. It says so when it has been playing for a while.
void play_until_stopped(rt_audio_interface& desk, const std::stop_token& stop) {
    const volts_source levels = [](std::size_t, volts_block& to) {
        for (std::size_t c = 0; c < to.size(); ++c)
            std::fill(to[c].begin(), to[c].end(), c == 0 ? 3.0F : c == 1 ? -2.0F : 0.0F);
    };
    std::size_t heard = 0;
    const volts_sink sink = [&](const volts_block& from) {
        const bool said = heard > 4800;
        heard += from[0].size();
        if (!said && heard > 4800) std::cout << "holding" << std::endl;
    };
    (void)desk.run_stream(levels, sink, {std::size_t{48000} * 30, 4800}, stop);
}

void end(rt_audio_interface& desk, const std::string& way, const std::stop_token& stop) {
    if (way == "signal in a take") {
        play_until_stopped(desk, stop);
        return;
    }
    const std::array levels{volts{3.0}, volts{-2.0}};
    desk.hold(levels);
    std::cout << "holding" << std::endl;
    std::this_thread::sleep_for(std::chrono::milliseconds{200});
    if (way == "uncaught") throw std::logic_error{"nobody catches this"};
    if (way == "uncaught on another thread")
        std::thread{[] { throw std::logic_error{"nobody catches this either"}; }}.join();
    if (way == "error") throw user_error{"something that the user can mend"};
    while (way == "signal" && !stop.stop_requested())
        std::this_thread::sleep_for(std::chrono::milliseconds{5});
}

}  // namespace

int main(int, char** argv) {
    const interrupts stop_on_signal;
    const auto b = read_bench(argv[1]);
    try {
        rt_audio_interface desk{b};
        end(desk, argv[2], stop_on_signal.token());
    } catch (const user_error& e) {
        std::cerr << e.what() << '\n';
        return 2;
    }
    return 0;
}
