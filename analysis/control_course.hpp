#pragma once

#include <span>
#include <vector>

#include "analysis/cycles.hpp"
#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// What a slowly moving control makes of a held note, in fine steps of time.
namespace cvrig::analysis {

struct control_course {
    std::vector<double> pitch_cents;       ///< against the expected line
    std::vector<double> brightness_cents;  ///< of the rms harmonic, against the fundamental
    seconds spacing;                       ///< from one value to the next
    seconds window;                        ///< Hann window that each value comes from
};

/// Follows pitch and brightness of one note.
///
/// Definition: harmonics in Hann windows of two periods, every `spacing`. Pitch: the advance of the
///             fundamental's phase from one window to the next. Brightness: 1200 lb of
///             sqrt(sum of (k A_k)^2 / sum of A_k^2), k = 1...12: an octave of the cutoff moves it by
///             less than an octave. What noise adds to each power on average is taken off.
/// Source:     demodulation; rms frequency of a spectrum: standard mathematics.
/// Input:      volts; the expected pitch within 5 %, 12 harmonics of it below 0.45 of the rate. The
///             part between `from` and `to` is read. `noise` is the rms of what is no part of the note.
/// Error:      0.01 cent of pitch for noise 80 dB below the note (tests/analysis/zipper_test.cpp).
/// Refuses:    bad_argument, too_short (below 64 windows), not_finite, silent.
[[nodiscard]] outcome<control_course> follow_control(std::span<const double> samples_volts,
                                                     sample_rate rate, const pitch_line& expected,
                                                     seconds from, seconds to, volts noise,
                                                     seconds spacing = seconds{1e-3});

}  // namespace cvrig::analysis
