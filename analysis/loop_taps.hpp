#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "analysis/loop_signal.hpp"

/// The path from what was sent to what was heard, as a short filter.
namespace cvrig::analysis {

/// h[j] belongs to a delay of 16 - j samples beyond the whole-sample lag.
using loop_taps = std::array<float, 32>;

inline constexpr std::ptrdiff_t loop_reach = 16;

/// A stretch of the record under the view that it lags the sequence by `lag` samples.
struct loop_stretch {
    std::ptrdiff_t from{0};
    std::ptrdiff_t samples{0};
    std::ptrdiff_t lag{0};
};

/// The part of a stretch of which the sequence (with its padding) knows something.
[[nodiscard]] loop_stretch within_sequence(const loop_signal& s, loop_stretch where) noexcept;

/// What the taps make of the sequence, one value for each sample of the stretch.
[[nodiscard]] std::vector<float> predicted(const loop_signal& s, const loop_stretch& where,
                                           const loop_taps& h);

/// The taps after one step towards the best fit: what remains is correlated with the sequence.
[[nodiscard]] loop_taps improved(const loop_signal& s, const loop_stretch& where,
                                 const loop_taps& h, std::span<const float> prediction);

/// A path in numbers.
struct loop_path {
    double gain{0.0};             ///< below the highest tones, with sign
    double delay_samples{0.0};    ///< beyond the lag
    double energy{0.0};           ///< sum of squares of the taps
    double gain_per_noise{0.0};   ///< standard uncertainties of gain and delay for taps that each
    double delay_per_noise{0.0};  ///< have a standard uncertainty of 1
};

/// Reads gain and delay off the taps.
///
/// Definition: gain is the sum of the taps beneath a raised cosine about the delay; the delay is
///             the slope of the phase from 0.03 to 0.34 of the sample rate, weighted with power.
[[nodiscard]] loop_path path_of(const loop_taps& h);

/// The whole-sample delay of the largest tap.
[[nodiscard]] std::ptrdiff_t largest_tap(const loop_taps& h) noexcept;

/// The same path seen from a lag that is greater by `by`.
[[nodiscard]] loop_taps shifted(const loop_taps& h, std::ptrdiff_t by) noexcept;

}  // namespace cvrig::analysis
