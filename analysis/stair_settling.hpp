#pragma once

#include <optional>
#include <vector>

#include "analysis/stair_fit.hpp"

/// How steps come to rest, and what that makes of their height, for steps_of_plateaus.
namespace cvrig::analysis {

/// All fits of a stair with one timing.
struct stair_fits {
    stair_fit sudden;
    std::vector<stair_fit> settling;  ///< with ascending time constants; at least one

    /// The settling one that leaves the least over.
    [[nodiscard]] const stair_fit& least() const;
};

/// Time constants from a quarter of a value, which is over before the first value, to half the time between
/// steps.
[[nodiscard]] std::optional<stair_fits> fits_at(const stair_course& course, const stair_timing& at);

/// Whether there surely is an exponential behind steps: three deviations of it.
[[nodiscard]] bool surely_settles(const stair_fit& fit);

/// A mean of the steps' heights over all that is likely of how they settle.
struct settled_mean {
    double step{0.0};  ///< with its sign
    double u_noise{0.0}, u_settling{0.0};
    double unsettled_share{0.0};  ///< how likely steps are not over when the next one comes
};

/// The mean step, from settled value to settled value.
///
/// Definition: Bayesian average of all fits. Before, steps are sudden or rounded with equal odds; all time
///             constants are equally likely (in their logarithm); and an exponential has at the time of the
///             step 0.8 +- 0.5 of its height: 1 if that time is right, exp(-1) where it was taken from a
///             line, which is late by the time constant. Time
///             constants above a fifth of the time between steps count for nothing, or, if they surely
///             leave more than 1 % to go when the next step comes, as not settled.
/// Source:     Bayes's theorem; linear regression: standard mathematics.
[[nodiscard]] settled_mean mean_over_settling(const stair_fits& fits,
                                              const stair_parameters& mean_step);

}  // namespace cvrig::analysis
