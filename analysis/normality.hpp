#pragma once

#include <span>

#include "analysis/outcome.hpp"

/// Whether a sample may be treated as normal at all.
namespace cvrig::analysis {

struct normality_reading {
    double statistic{0.0};  ///< A^2, modified for the number of observations
    /// How often a normal sample departs as much as this one. Small: not normal.
    double probability{0.0};
};

/// Anderson-Darling test for the normal distribution of unknown mean and deviation.
///
/// Definition: A^2 = -n - sum (2 i - 1) (ln F_i + ln(1 - F_(n + 1 - i))) / n of the sorted sample, F
///             at (x - mean) / s; times 1 + 0.75 / n + 2.25 / n^2; probability by the fitted
///             exponentials.
/// Source:     R. B. D'Agostino and M. A. Stephens, "Goodness-of-Fit Techniques", 1986, chapter 4,
///             Tables 4.7 and 4.9.
/// Input:      8 or more numbers, not all equal. A coarse grid of values (few different ones) counts
///             as a departure, rightly.
/// Error:      probability: relative 0.05 from 0.01 to 0.25; below, its order of magnitude.
/// Refuses:    too_short, not_finite, bad_argument (all equal).
[[nodiscard]] outcome<normality_reading> measure_normality(std::span<const double> sample);

}  // namespace cvrig::analysis
