#pragma once

#include "analysis/line_reader.hpp"
#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

namespace cvrig::analysis {

/// Pitch of a steady note of which the fundamental is the loudest line, as in saw, square and pulse:
/// quick, where measure_tone would be thorough.
///
/// Definition: the loudest bin from 0.4 to 2.6 times `expected`, interpolated; then the frequency
///             near it at which the sum of k^2 |amplitude|^2 of its first `count` harmonics is
///             largest, so that the high ones decide.
/// Source:     interpolation: Grandke 1983 (line_reader); harmonic sum: Nielsen et al. 2017, Signal
///             Processing 135.
/// Input:      a record of 24 periods or more.
/// Error:      0.002 bins (tests/analysis/wave_profile_test.cpp).
/// Refuses:    bad_argument (expected not above 0), too_short, no_pitch (nothing stands out).
[[nodiscard]] outcome<hertz> pitch_of_wave(const line_reader& spectrum, hertz expected, int count);

}  // namespace cvrig::analysis
