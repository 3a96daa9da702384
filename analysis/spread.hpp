#pragma once

#include <span>

#include "analysis/outcome.hpp"

/// How a quantity scatters that was observed many times. All numbers of one call share one unit,
/// that of the observations, which is why they are plain doubles.
namespace cvrig::analysis {

struct spread_reading {
    double mean{0.0}, u_mean{0.0};
    double deviation{0.0}, u_deviation{0.0};  ///< standard deviation, the observer's own taken off
    double least{0.0}, most{0.0};
    /// Of the uniform distribution that fits best: what a device that looks once every `width`
    /// makes of events at random times.
    double width{0.0}, u_width{0.0};
    /// That a uniform distribution scatters no more evenly than what was observed.
    double uniform_probability{0.0};
};

/// Mean, spread, and whether the spread is uniform.
///
/// Definition: s with n - 1; u(s) = s sqrt((kurtosis - (n - 3) / (n - 1)) / (4 n)); width = range
///             (n + 1) / (n - 1), unbiased, u = width sqrt(2 / ((n - 1) (n + 2))); probability by
///             Kolmogorov's test of the n - 2 inner observations between the outer two.
/// Source:     variance of s^2: standard mathematical statistics; range of a uniform sample: beta
///             distribution of n - 1 and 2 (order statistics); M. A. Stephens 1970, "Use of the
///             Kolmogorov-Smirnov ... statistics without extensive tables", J. R. Stat. Soc. B 32;
///             standard deviation of a uniform distribution width / sqrt(12): JCGM 100:2008, 4.3.7.
/// Input:      8 or more finite numbers; `u_each` is what the observer adds to each at random.
/// Error:      in the limit of many observations (tests/analysis/spread_test.cpp).
/// Refuses:    too_short, not_finite, bad_argument.
[[nodiscard]] outcome<spread_reading> measure_spread(std::span<const double> observed,
                                                     double u_each);

/// What the largest of many observations says of the largest of what they observed.
struct extreme_reading {
    double value{0.0};  ///< freed of what the observer's own scatter adds to an extreme
    double u{0.0};      ///< standard uncertainty
};

/// The largest (smallest: of the negated numbers) of quantities that were each observed once.
///
/// Definition: the largest of d_i + e_i, e normal with `u_each`, has the distribution function
///             F(x) = product of Phi((x - d_i) / u_each). Its mean, with the observations for d,
///             less the largest observation is what such scatter adds, and is taken off once; its
///             standard deviation is u. Near ties are so less uncertain than one observation.
/// Source:     H. A. David, H. N. Nagaraja, "Order Statistics", 3rd edition 2003, 5.2 (independent
///             variables that are not identically distributed), from memory; plugging observations
///             in for the truth: B. Efron 1979, "Bootstrap Methods: Another Look at the Jackknife".
/// Input:      1 or more finite numbers; u_each not negative.
/// Error:      1e-3 of u_each from the integration.
/// Refuses:    too_short (none), not_finite, bad_argument.
[[nodiscard]] outcome<extreme_reading> measure_largest(std::span<const double> observed,
                                                       double u_each);

/// A share of successes with the interval that surely holds the true one.
struct proportion_interval {
    double lower{0.0}, upper{1.0};
};

/// Exact confidence interval of a proportion.
///
/// Definition: lower and upper p at which as many (as few) successes have probability (1 - level) /
///             2.
/// Source:     C. J. Clopper and E. S. Pearson 1934, "The use of confidence or fiducial limits
///             illustrated in the case of the binomial", Biometrika 26; computed by Boost.Math.
/// Input:      successes at most trials, trials above 0, 0 < level < 1.
/// Error:      1e-9; the interval holds the truth in `level` of all cases or more.
/// Refuses:    bad_argument.
[[nodiscard]] outcome<proportion_interval> clopper_pearson(unsigned successes, unsigned trials,
                                                           double level);

}  // namespace cvrig::analysis
