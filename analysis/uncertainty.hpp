#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "analysis/outcome.hpp"

/// Uncertainty budgets and decisions against limits. All numbers of one call share one unit, that
/// of the reading, which is why they are plain doubles.
namespace cvrig::analysis {

/// One named part of a reading's standard uncertainty, in the reading's unit.
struct contribution {
    std::string name;
    double standard_uncertainty{0.0};
};

/// Independent contributions and their combination.
struct uncertainty_budget {
    double standard_uncertainty{0.0};
    std::vector<contribution> parts;

    /// Half-width of the interval that a coverage factor stands for (JCGM 100:2008, 6.2.1).
    [[nodiscard]] double expanded(double coverage_factor) const noexcept {
        return coverage_factor * standard_uncertainty;
    }
    /// The part to improve first; null for an empty budget.
    [[nodiscard]] const contribution* largest() const noexcept;
};

/// Combines independent contributions in quadrature.
///
/// Definition: u_c = sqrt(sum of u_i^2), each u_i already in the reading's unit.
/// Source:     JCGM 100:2008 (GUM), 5.1.2, equation 10.
/// Input:      any number of finite u_i, none negative; no parts give 0.
/// Refuses:    bad_argument.
[[nodiscard]] outcome<uncertainty_budget> combine(std::vector<contribution> parts);

/// Covariance matrix of the means of simultaneously observed quantities.
///
/// Definition: s(q_i, q_j) / n of n observations (Type A), row by row.
/// Source:     JCGM 100:2008, 5.2.3, equation 17.
/// Input:      one row of `quantities` numbers after the other, 2 or more rows.
/// Refuses:    too_short, bad_argument (no whole rows), not_finite.
[[nodiscard]] outcome<std::vector<double>> covariance_of_means(std::span<const double> observations,
                                                               std::size_t quantities);

/// Carries a covariance matrix through a linearised measurement model.
///
/// Definition: C V C^T, row by row; C holds one row of sensitivities for each result.
/// Source:     JCGM 100:2008, 5.2.2, equation 13, and H.2.3.
/// Input:      V of n * n numbers, C of m * n numbers.
/// Refuses:    bad_argument (sizes), not_finite.
[[nodiscard]] outcome<std::vector<double>> propagate(std::span<const double> covariance,
                                                     std::span<const double> sensitivities);

/// One variance with the degrees of freedom behind it; infinity for "known exactly".
struct estimated_part {
    double standard_uncertainty{0.0};
    double degrees_of_freedom{0.0};
};

/// Effective degrees of freedom of a combined uncertainty, not rounded.
///
/// Definition: u_c^4 / sum of u_i^4 / nu_i (Welch-Satterthwaite).
/// Source:     JCGM 100:2008, G.4.1, equation G.2b. Round down before looking up a table.
/// Input:      finite u_i, not negative, at least one above 0; nu_i above 0 or infinite.
/// Refuses:    bad_argument.
[[nodiscard]] outcome<double> effective_degrees_of_freedom(std::span<const estimated_part> parts);

/// Coverage factor: -k..+k encloses `level` of Student's t distribution.
///
/// Source:     JCGM 100:2008, Table G.2; computed by Boost.Math.
/// Input:      0 < level < 1; degrees of freedom above 0, infinity for the normal distribution.
/// Refuses:    bad_argument.
[[nodiscard]] outcome<double> coverage_factor(double level, double degrees_of_freedom);

/// The values a limit permits; at least one end is given. Both ends belong to it.
struct tolerance_interval {
    std::optional<double> lower;
    std::optional<double> upper;
};

/// Probability that the true value lies inside the tolerance interval.
///
/// Definition: Phi((upper - value) / u) - Phi((lower - value) / u), a missing end dropped.
/// Source:     JCGM 106:2012, clauses 7.3 and 7.4; the value is taken as normally distributed.
/// Input:      finite value, u not negative (0 asks only on which side the value lies).
/// Refuses:    bad_argument (no end, ends reversed, NaN or infinity, negative u).
[[nodiscard]] outcome<double> conformance_probability(double value, double standard_uncertainty,
                                                      const tolerance_interval& permitted);

/// inside and outside are sure by the guard band; undecided: the measurement cannot tell.
enum class decision { inside, outside, undecided };

/// Decides one reading against its limits with a guard band on both sides of each limit.
///
/// Definition: with U = k * u: inside if the value is inside by at least U, outside if it is beyond
///             an end by at least U, else undecided. For U = 0 a value on a limit is inside.
///             An interval narrower than 2 U can never be met surely: there only outside or
///             undecided result.
/// Source:     JCGM 106:2012, clause 8.3 (guarded acceptance and guarded rejection, w = U);
///             ILAC-G8:09/2019, 4.2 (non-binary statement with guard band, its two middle results
///             in one).
/// Input:      finite numbers, u and k not negative. Limits are compared as binary numbers: a
///             distance of "exactly U" in decimals may fall on either side.
/// Refuses:    bad_argument (no end, ends reversed, NaN or infinity, negative u or k).
[[nodiscard]] outcome<decision> decide(double value, double standard_uncertainty,
                                       double coverage_factor, const tolerance_interval& permitted);

}  // namespace cvrig::analysis
