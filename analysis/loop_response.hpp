#pragma once

#include <cstddef>
#include <span>

#include "analysis/outcome.hpp"

namespace cvrig::analysis {

/// How far up a path carries a known sequence, as a part of the sample rate.
///
/// Definition: the highest frequency at which the averaged cross-spectrum over the spectrum of what
///             was sent, smoothed over 5 of 512 bins, has more than half the power that it has from
///             0.02 to 0.2 of the sample rate.
/// Source:     P. D. Welch, "The use of fast Fourier transform for the estimation of power spectra",
///             1967 (averaging over modified periodograms).
/// Input:      both of one length, 4096 samples or more, aligned to some samples.
/// Error:      0.005 of the sample rate without noise (tests/analysis/loop_response_test.cpp).
/// Refuses:    too_short, bad_argument (lengths differ), silent.
[[nodiscard]] outcome<double> measure_loop_bandwidth(std::span<const float> sent,
                                                     std::span<const float> heard);

/// How much of a known sequence leaked into a record.
struct leak_reading {
    double ratio{0.0};  ///< of voltages, by root sum of squares over delays of -2 to 2 samples
    double u_ratio{0.0};
};

/// Finds a small part of a known sequence in a record at a known lag.
///
/// Definition: correlation with the sequence, after the record's mean over 65 samples is taken off;
///             what noise alone would give is taken off, too.
/// Input:      the record from the first sample of the sequence on (2 samples before and behind it
///             are not needed); amplitude of the sequence above 0.
/// Refuses:    too_short (less than 1024 samples), bad_argument.
[[nodiscard]] outcome<leak_reading> measure_leak(std::span<const float> heard,
                                                 std::span<const float> sequence, double amplitude);

}  // namespace cvrig::analysis
