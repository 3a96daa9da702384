#include "demo/alsa/alsa_client.hpp"
#include "demo/commands.hpp"
#include "demo/live/jack_names.hpp"
#include "demo/live/live_arguments.hpp"
#include "demo/live/module_console.hpp"
#include "demo/platform/stop_signals.hpp"
#include "demo/user_mistake.hpp"

#include <chrono>
#include <iostream>
#include <optional>

namespace ferrule {
namespace {

jack_face face_of(const live_arguments& asked) {
    return {asked.server,
            asked.client,
            {jack_names.begin(), jack_names.end()},
            {output_names.begin(), output_names.end()}};
}

alsa_face alsa_face_of(const live_arguments& asked) {
    return {asked.alsa, asked.rate_hertz, asked.block_frames, asked.blocks,
            read_channel_map(asked.channels, asked.loop, asked.output_channels,
                             asked.full_scale_volts)};
}

/// Until a signal asks for the end, or the audio ends: status 1.
template <typename Audio>
int serve(const Audio& audio, module_console* console, stop_signals& stop) {
    using namespace std::chrono_literals;
    while (!stop.came()) {
        if (audio.is_alone()) {
            std::cerr << "The audio that the module sat on has ended, and the module with it.\n";
            return 1;
        }
        if (console != nullptr) console->turn();
        const bool busy = console != nullptr && console->is_busy();
        stop.wait(console != nullptr ? console->number() : -1, busy ? 0ms : 5ms);
    }
    return 0;
}

template <typename Audio>
int live_on(Audio& audio, const live_arguments& asked, stop_signals& stop) {
    const auto module_asked = parse_arguments(asked.module);
    sounding sound{plan_of(module_asked, audio.rate_hertz())};
    const running<Audio> runs{audio, sound};
    bass_module module{asked.module, module_asked, sound};
    std::optional<module_console> console;
    std::string address = "none";
    if (!asked.console.empty()) {
        auto port = open_console_port(asked.console);
        address = port->address();
        console.emplace(std::move(port), module, asked.faults, asked.flash);
    }
    std::cout << "ferrule: ready, " << module.identity() << ", " << audio.rate_hertz()
              << " Hz, blocks of " << audio.block_frames() << ", console " << address << std::endl;
    return serve(audio, console ? &*console : nullptr, stop);
}

}  // namespace

int live_command(std::span<const std::string> words) {
    const auto asked = read_live_arguments(words);
    stop_signals stop;
    if (!asked.alsa.empty()) {
        alsa_client alsa{alsa_face_of(asked)};
        return live_on(alsa, asked, stop);
    }
    jack_client jack{face_of(asked)};
    return live_on(jack, asked, stop);
}

}  // namespace ferrule
