#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

namespace cvrig::analysis {

/// One strike as it is seen in the level.
struct counted_strike {
    seconds at;     ///< when the rise passed what counts, within two periods
    volts level;    ///< peak of the fundamental, at the top of the rise
    decibels rise;  ///< above the lowest level before it; large from silence
};

struct strike_counting {
    hertz pitch;             ///< right within 2 %
    decibels smallest{1.5};  ///< a rise that counts
};

/// Counts the strikes of a note: how often its level rises again.
///
/// Definition: peak amplitude of the fundamental in a triangular window of two periods. A strike is
///             a rise by `smallest` above the lowest level since the last one; the level must have
///             fallen by as much before the next can count, and stand twenty times above the noise and
///             less than 46 dB below the loudest strike.
/// Source:     common practice (hysteresis on an envelope), no source.
/// Input:      one pitch throughout, as high as may be; two strikes in less than three periods
///             count as one.
/// Error:      none for dips of twice `smallest` (tests/analysis/strike_count_test.cpp).
/// Refuses:    bad_argument, not_finite, too_short (less than four periods, or no silence).
///             Silence has no strikes, which is an answer.
[[nodiscard]] outcome<std::vector<counted_strike>> count_strikes(std::span<const double> volts,
                                                                 std::span<const double> silence,
                                                                 sample_rate rate,
                                                                 const strike_counting& request);

/// The level that it counts in: one value every quarter period, the first for sample 0.
struct fundamental_course {
    seconds spacing;
    std::vector<double> peak_volts;
};
[[nodiscard]] fundamental_course follow_fundamental(std::span<const double> volts, sample_rate rate,
                                                    hertz pitch);

}  // namespace cvrig::analysis
