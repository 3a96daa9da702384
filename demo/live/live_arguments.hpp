#pragma once

#include "demo/live/misbehaviour.hpp"

#include <span>
#include <string>
#include <vector>

namespace ferrule {

/// How a live module is connected, and what it does wrong.
struct live_arguments {
    std::string server;
    std::string client = "ferrule";
    std::string console;  ///< "pty:LINK", "tcp:PORT", "serial:DEVICE"; empty: none
    std::string alsa;     ///< instead of JACK: this device
    double full_scale_volts = 10.0;
    unsigned rate_hertz = 48000;
    unsigned block_frames = 256;
    unsigned blocks = 4;
    std::vector<std::string> channels;  ///< jacks in the order of the interface's inputs
    std::string loop;                   ///< "7:3": input 7 goes straight to output 3
    std::size_t output_channels = 2;    ///< at least, whatever the module needs
    absence flash;                      ///< what the console does in flash mode
    misbehaviour faults;
    std::vector<std::string> module;  ///< everything else: what parse_arguments reads
};

/// Throws user_mistake when a value is impossible.
[[nodiscard]] live_arguments read_live_arguments(std::span<const std::string> words);

}  // namespace ferrule
