#pragma once

#include <filesystem>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/link/exchange_feeder.hpp"

namespace cvrig {

class rt_audio_interface;

/// What became of a file that was played.
struct played_file {
    std::vector<std::string> problems;  ///< empty: the record is whole
    std::vector<std::string> notes;     ///< what the driver said where it does not count
    seconds length{0.0};
    bool stopped{false};
};

/// Plays a WAV file in volts (one channel for each output of the bench, in its order) and records
/// every input of the bench to another one, which begins with what was heard of the first sample
/// and has the same length. Both may be hours long: memory does not grow with them.
///
/// Refuses: throws user_error, before anything sounds, for another number of channels, another
///          rate, and any volt outside its output's limits.
[[nodiscard]] played_file play_file(rt_audio_interface& to, const bench& b,
                                    const std::filesystem::path& stimulus,
                                    const std::filesystem::path& response,
                                    const std::stop_token& stop);

/// What play_file() refuses about a file, checked without an interface.
void require_playable(const bench& b, const volts_layout& layout,
                      const std::filesystem::path& stimulus);

}  // namespace cvrig
