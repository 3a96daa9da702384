#pragma once

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

#include "analysis/units.hpp"

/// What the readers of short notes share: the phase of a fundamental under short windows.
namespace cvrig::analysis {

/// Length of a window in samples, not rounded: whole periods, two or as many as 16 ms hold.
[[nodiscard]] double short_window_length(hertz pitch, sample_rate rate) noexcept;

/// A Hann window of that length, whose zeros lie on the other harmonics.
///
/// Source:     Harris 1978, "On the use of windows for harmonic analysis", section V-C.
[[nodiscard]] std::vector<double> short_window(hertz pitch, sample_rate rate);

/// From window to window: never more than half a period, so that no error of pitch turns the phase
/// by more than it can be followed.
[[nodiscard]] std::size_t hop_of(std::span<const double> window, hertz highest, sample_rate rate);

struct phase_track {
    std::vector<double> cycles, phase;  ///< expected cycles at the centre; heard phase, in cycles
    double power{0.0};                  ///< mean square of the fundamental
    double hops_in_window{1.0};
};

/// The phase of a record that was turned back by its expected cycles, window by window, unwrapped.
[[nodiscard]] phase_track follow_phase(std::span<const std::complex<double>> turned,
                                       std::span<const double> cycles,
                                       std::span<const double> window, std::size_t hop);

}  // namespace cvrig::analysis
