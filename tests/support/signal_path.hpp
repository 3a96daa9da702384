#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "analysis/units.hpp"

/// What lies between a socket and another, piece by piece: used to imitate interfaces.
namespace cvrig::testing {

/// A stretch of samples that is lost (positive) or repeated (negative), seen at the receiver.
struct slip {
    std::size_t at{0};
    std::ptrdiff_t lost{0};
};

/// Band-limited reading of x at (n - delay) * step for n = 0 to count - 1; 0 outside x. `cutoff` is
/// where the filter is at half its height, as a part of the sample rate; 0.5 keeps everything.
[[nodiscard]] std::vector<float> band_limited(std::span<const float> x, std::size_t count,
                                              double delay_samples, double step = 1.0,
                                              double cutoff = 0.5);

/// First-order high-pass, such as a coupling capacitor.
void couple_by_capacitor(std::span<float> x, hertz corner, sample_rate rate);

/// Normal noise from a seed.
void add_noise(std::span<float> x, double rms, std::uint64_t seed);

void add_sine(std::span<float> x, double amplitude, hertz frequency, sample_rate rate,
              double phase = 0.0);

/// Loses or repeats samples; the length stays, with zeros at the end where samples are missing.
/// Places are those of the record that results.
[[nodiscard]] std::vector<float> with_slips(std::span<const float> x, std::span<const slip> slips);

void clip(std::span<float> x, double limit);

}  // namespace cvrig::testing
