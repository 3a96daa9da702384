#pragma once

#include "analysis/outcome.hpp"
#include "analysis/spread.hpp"

/// What a number of units says about the share of all units, whatever the distribution. The
/// two-sided interval of a share is `clopper_pearson` in analysis/spread.hpp.
namespace cvrig::analysis {

/// The share that is surely exceeded: with `confidence`, the true share is this or more.
///
/// Definition: p at which `successes` or more of `trials` have probability 1 - confidence; 0 if
///             there was no success.
/// Source:     C. J. Clopper and E. S. Pearson 1934, Biometrika 26, one tail only; NIST/SEMATECH
///             e-Handbook of Statistical Methods, 7.2.4.1; computed by Boost.Math.
/// Input:      successes at most trials, trials above 0, 0 < confidence < 1.
/// Error:      1e-9; holds the truth in `confidence` of all cases or more.
/// Refuses:    bad_argument.
[[nodiscard]] outcome<double> share_at_least(unsigned successes, unsigned trials,
                                             double confidence);

/// The share that is surely not exceeded: with `confidence`, the true share is this or less.
///
/// Definition: p at which `successes` or fewer of `trials` have probability 1 - confidence; 1 if
///             all succeeded.
/// Source, Input, Error, Refuses: as share_at_least.
[[nodiscard]] outcome<double> share_at_most(unsigned successes, unsigned trials, double confidence);

/// What one asks to lie within the extremes of a sample.
enum class sample_ends {
    one,   ///< below the largest (or above the smallest) of the sample
    both,  ///< between the smallest and the largest
};

/// Confidence that at least a share of all units lies within the extremes of a sample.
///
/// Definition: one end 1 - p^n; both ends 1 - n p^(n - 1) + (n - 1) p^n. Exact for any continuous
///             distribution; at least this for any other.
/// Source:     S. S. Wilks 1941, "Determination of sample sizes for setting tolerance limits", Ann.
///             Math. Stat. 12; ISO 16269-6:2014, clause on distribution-free intervals.
/// Input:      units above 0, 0 < share < 1. One unit has no two ends: 0.
/// Error:      rounding.
/// Refuses:    bad_argument.
[[nodiscard]] outcome<double> confidence_within_extremes(unsigned units, double share,
                                                         sample_ends ends);

/// The share of all units that lies within the extremes of a sample with given confidence, or more.
///
/// Definition: share at which confidence_within_extremes is `confidence`.
/// Source:     as confidence_within_extremes; both ends by the beta distribution of n - 1 and 2.
/// Input:      units above 0 (both ends: above 1), 0 < confidence < 1.
/// Error:      1e-9.
/// Refuses:    bad_argument.
[[nodiscard]] outcome<double> share_within_extremes(unsigned units, double confidence,
                                                    sample_ends ends);

/// Fewest units whose extremes hold at least a share of all units with given confidence.
///
/// Definition: smallest n with confidence_within_extremes(n, share) >= confidence.
/// Source:     as confidence_within_extremes.
/// Input:      0 < share < 1, 0 < confidence < 1.
/// Error:      none.
/// Refuses:    bad_argument (also where more than 10^9 units were needed).
[[nodiscard]] outcome<unsigned> units_for_extremes(double share, double confidence,
                                                   sample_ends ends);

}  // namespace cvrig::analysis
