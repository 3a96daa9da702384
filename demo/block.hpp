#pragma once

#include <array>
#include <cstddef>

namespace ferrule {

/// The firmware works in blocks of this many frames, at whatever rate its converters run.
inline constexpr std::size_t block_frames = 24;

/// One block is being recorded and one is being played while the firmware computes: what enters a
/// jack leaves the outputs this many frames later at the earliest.
inline constexpr std::size_t block_latency_frames = 2 * block_frames;

enum class jack { pitch, gate, accent, slide, cutoff, decay };
inline constexpr std::size_t jack_count = 6;

/// Volts of one block, one row for each jack.
using input_block = std::array<std::array<double, block_frames>, jack_count>;

enum class output { left, right };
inline constexpr std::size_t output_count = 2;

/// Volts of one block, one row for each output.
using output_block = std::array<std::array<double, block_frames>, output_count>;

}  // namespace ferrule
