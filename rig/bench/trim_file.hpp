#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "rig/bench/bench.hpp"

namespace cvrig {

/// The measured constants of one channel of the interface.
struct trimmed_channel {
    std::size_t channel{1};  ///< from 1
    std::string name;        ///< jack, or "loop-back"
    channel_trim trim;
    std::string date{};  ///< if it was measured on another day than the file says
};

/// How the two channels of the loop-back are named, which are trimmed by each other.
inline constexpr std::string_view loop_back_name = "loop-back";

/// What `cvrig trim` measured with a meter: a file beside the bench file, which a program writes and
/// people may read.
///
///     format: cvrig trim 1
///     bench: desk
///     date: 2026-11-25
///     meter: bench meter, 6 1/2 digits
///     outputs:
///       - {channel: 1, name: pitch, full scale: 10.0213 V, offset: 0.0012 V,
///          full scale uncertainty: 0.0003 V, offset uncertainty: 0.0001 V, covariance: -1e-09}
///     inputs: ...
///
/// The covariance of the two constants is in V^2.
struct trim_constants {
    std::string bench;  ///< the bench's name
    std::string date;
    std::string meter;
    std::vector<trimmed_channel> outputs, inputs;
};

/// Reads and validates a trim file. Throws user_error with all complaints of the file at once.
[[nodiscard]] trim_constants read_trim_file(const std::string& file);

/// Writes a trim file as a whole or not at all; what was read is written back to the same numbers.
/// Throws user_error if it cannot be written.
void write_trim_file(const std::string& file, const trim_constants& constants);

/// What a trimming has measured, with the constants of an earlier one for the channels that it left
/// out; those keep their date.
[[nodiscard]] trim_constants merged(const trim_constants& earlier, trim_constants measured);

/// Puts the constants in place of the bench's own, channel by channel. A channel that the bench does
/// not use is left alone, and one that the file lacks keeps the bench's constants.
///
/// Refuses: throws user_error for constants of another bench, and for constants with which an output
///          could not reach its limits.
void apply(const trim_constants& constants, bench& b);

}  // namespace cvrig
