#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"

/// A smooth course through many points of which some are simply wrong.
namespace cvrig::analysis {

struct robust_polynomial {
    std::vector<double> coefficients;  ///< of 1, x, x^2, ...
    double scatter{0.0};               ///< standard deviation of the points that belong to it

    [[nodiscard]] double operator()(double x) const noexcept;
};

/// Polynomial that up to about a third of the points cannot pull away.
///
/// Definition: least absolute distances by reweighted least squares; `scatter` is 1.4826 times the
///             median absolute distance, which is the standard deviation of normal errors.
/// Source:     Holland and Welsch 1977, "Robust regression using iteratively reweighted
///             least-squares"; Rousseeuw and Croux 1993, "Alternatives to the median absolute
///             deviation" (the factor).
/// Input:      at least four points for each coefficient, x of order 1.
/// Refuses:    bad_argument (lengths), too_short, not_finite, no_fit (all x alike).
[[nodiscard]] outcome<robust_polynomial> fit_robust(std::span<const double> x,
                                                    std::span<const double> y, std::size_t degree);

/// The middle one of a list, the mean of the middle two for an even number; not empty.
[[nodiscard]] double median_of(std::vector<double> values);

}  // namespace cvrig::analysis
