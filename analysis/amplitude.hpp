#pragma once

#include <span>
#include <vector>

#include "analysis/envelope.hpp"
#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// The amplitude of a note whose low-pass filter moves, freed of what the filter does to it.
namespace cvrig::analysis {

/// Frames whose fundamental is what it would be far below the filter's cutoff, up to a factor that
/// stays the same.
///
/// Definition: a low-pass filter's gain at f far below its cutoff is 1 + a f^2 in nepers, so that
///             with the lowest other harmonic n that stands out, ln A = (n^2 ln A_1 - ln A_n) /
///             (n^2 - 1). Where none does (a sine), A = A_1. Windows as in track_envelope.
/// Source:     Taylor series of the gain, whose odd terms vanish (standard mathematics).
/// Input:      as track_envelope; harmonic n no higher than a third of the cutoff. `silence` is
///             what the jack gives when nothing sounds; a harmonic stands out above twenty times
///             its noise and a fiftieth of the fundamental, in every frame.
/// Error:      decay's time constant within 0.5 % under a closing filter
///             (tests/analysis/amplitude_test.cpp).
/// Refuses:    as track_envelope; too_short also for a silence of less than 16 samples.
[[nodiscard]] outcome<std::vector<envelope_frame>> track_amplitude(std::span<const double> volts,
                                                                   std::span<const double> silence,
                                                                   sample_rate rate,
                                                                   const envelope_request& request);

}  // namespace cvrig::analysis
