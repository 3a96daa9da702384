#pragma once

#include <span>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// A quick look at whether and how fast a record repeats itself, for where a few per cent are
/// enough and a note may be short, may change its brightness and may hardly be there.
namespace cvrig::analysis {

/// How well a record repeats itself after a lag: 1 for exactly, 0 for not at all, -1 for upside
/// down.
///
/// Definition: 2 sum of x(i) x(i + lag) / sum of (x(i)^2 + x(i + lag)^2), x without its mean; a
///             part of a sample by straight lines between samples.
/// Source:     P. McLeod, G. Wyvill, "A smarter way to find pitch", Proc. ICMC, 2005 (normalised
///             square difference function, 1 - d / m).
/// Input:      a lag above 0; 0 where fewer than two samples overlap or nothing sounds.
[[nodiscard]] double repetition(std::span<const double> samples, double lag_samples) noexcept;

struct period_request {
    hertz lowest{30.0};
    hertz highest{4000.0};
};

struct period_reading {
    hertz pitch;
    double repetition{0.0};  ///< at that period
};

/// Pitch of a short record from its repetition.
///
/// Definition: the shortest lag at a peak of the repetition that reaches 0.9 of the highest peak,
///             so that a multiple of the period is not taken for it; a parabola through the peak.
/// Source:     as above, "key maxima".
/// Input:      two periods of the pitch or more; lags beyond half the record are not looked at.
/// Error:      below 1 % for a saw through a low-pass filter (tests/analysis/periodicity_test.cpp).
/// Refuses:    bad_argument (rate, range), too_short, not_finite, silent (constant), no_pitch
///             (no peak above 0.7).
[[nodiscard]] outcome<period_reading> measure_period(std::span<const double> samples,
                                                     sample_rate rate,
                                                     const period_request& request = {});

}  // namespace cvrig::analysis
