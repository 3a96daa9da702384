#pragma once

#include <filesystem>
#include <optional>
#include <span>
#include <vector>

#include "analysis/units.hpp"
#include "rig/stimulus/wave_file.hpp"

namespace cvrig {

/// FLAC holds no more channels in one file (RFC 9639, 9.1.3).
inline constexpr std::size_t most_flac_channels = 8;

/// A sample that was written and read again is off by at most this part of its channel's full scale:
/// half a step of 24 bit.
inline constexpr double flac_rounding = 0x1p-24;

/// The smallest power of two (in volts) at which no sample clips in 24 bit, and at least 2^-20 V; 1 V
/// for silence. Empty if a sample is not finite: no scale can hold it.
[[nodiscard]] std::optional<volts> full_scale_for(std::span<const float> samples) noexcept;

/// Writes FLAC of 24 bit, in which a channel's full scale is the sample value 1.0. Equal recordings
/// give equal bytes.
///
/// Input:   1 to 8 channels of one length, a scale for each that full_scale_for() gave or more.
/// Error:   each sample is rounded by at most flac_rounding of its full scale.
/// Refuses: throws user_error if the file cannot be written.
void write_flac_file(const std::filesystem::path& file, const recording& r,
                     std::span<const volts> full_scales);

/// What a FLAC file says about itself, if it is one of 24 bit; empty otherwise.
[[nodiscard]] std::optional<wave_format> read_flac_format(const std::filesystem::path& file);

/// A whole FLAC file of 24 bit in volts.
///
/// Refuses: throws wave_file_error for a file that is no FLAC of 24 bit, is damaged or cut off, or
///          has another number of channels than scales.
[[nodiscard]] recording read_flac_file(const std::filesystem::path& file,
                                       std::span<const volts> full_scales);

}  // namespace cvrig
