#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"

namespace cvrig::analysis {

/// From one reading of a series on, its mean is another.
struct change_point {
    std::size_t first_after{0};  ///< index of the first reading of the new mean
    double before{0.0};          ///< mean between the change before (or the beginning) and this one
    double after{0.0};           ///< mean up to the next change (or the end)
    double p{1.0};               ///< chance of so large a step anywhere in a series without one
};

/// Where a series of readings changes its level for good, each in the order of the series.
///
/// Definition: of all places to cut a stretch in two, the one with the largest difference of means over its
///             standard deviation; a change if its p is below `significance`, then each part is cut again
///             (binary segmentation). The standard deviation of one reading is the scatter within the two
///             parts (t distribution with n - 2 degrees of freedom) or the root mean square of the stated
///             standard uncertainties (normal distribution), whichever makes the step less striking. p is
///             Bonferroni's bound for n - 1 places.
/// Source:     Worsley 1979, "On the likelihood ratio test for a shift in location of normal populations",
///             JASA 74; Scott & Knott 1974, "A cluster analysis method for grouping means", Biometrics 30.
/// Input:      readings in the order of their builds and one standard uncertainty each (0 or more), as many;
///             any unit. Readings are independent, and scatter alike about their mean.
/// Error:      a slow drift is told as steps; two readings can hold no change.
/// Refuses:    not_finite; bad_argument (unequal lengths, a significance that is not between 0 and 1).
[[nodiscard]] outcome<std::vector<change_point>> change_points(std::span<const double> readings,
                                                               std::span<const double> u,
                                                               double significance = 0.01);

}  // namespace cvrig::analysis
