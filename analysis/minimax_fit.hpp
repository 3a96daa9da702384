#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "analysis/fit.hpp"
#include "analysis/outcome.hpp"

/// Fits of least worst departure (Chebyshev): what to store in a module so that its largest error
/// is as small as it can be.
namespace cvrig::analysis {

/// How sure each ordinate is. No numbers at all: uncertainties are not asked for and come out as 0.
struct ordinate_uncertainty {
    std::vector<double> independent;  ///< one for each ordinate, or one number for all
    double common{0.0};               ///< of what is added to all ordinates alike
};

/// A point that holds the fit where it is.
struct touching_point {
    std::size_t index{0};
    int sign{0};           ///< of y - fit; 0 where the fit goes through the point
    std::size_t level{0};  ///< 0: at the worst departure; 1: at the worst of the rest; ...
};

struct minimax_fit_result {
    std::vector<double> coefficients;
    std::vector<double> covariance;  ///< of the coefficients, row by row
    double worst_departure{0.0};     ///< largest |y - fit|
    double u_worst_departure{0.0};
    std::vector<touching_point> touching;
    /// Points whose distance from touching is below twice its standard uncertainty: other noise
    /// might have them touch instead.
    std::size_t rivals{0};
    std::size_t rivals_of_worst{0};  ///< the same, of the worst departure alone

    [[nodiscard]] double standard_uncertainty(std::size_t coefficient) const;
    /// sum of coefficient * weight, one weight for each coefficient.
    [[nodiscard]] prediction predict(std::span<const double> weights) const;
};

/// Least worst departure of data from a linear combination of given functions.
///
/// Definition: c that makes max |y_i - sum_j a_ij c_j| least. Where that leaves freedom (a table
///             whose worst stretch fixes only the nodes near it), the worst departure of the points
///             that are still free is made least, and so on: the strict approximation. It is unique
///             if the columns are independent, and is the limit of the least p-th powers for
///             p -> infinity. It may take a small gain at one point for a larger departure of
///             another, as any minimax does, but never one above the worst. Uncertainty: the touching points determine c by a linear system, so
///             c = M y of those points; covariance M diag(u^2) M^T + u_common^2 (M 1)(M 1)^T.
/// Source:     J. R. Rice, "Tchebycheff approximation in a compact metric space", Bull. Amer. Math.
///             Soc. 68 (1962) (strict approximation); E. W. Cheney, "Introduction to Approximation
///             Theory", 1966, chapter 1 and 2 (linear programme, exchange), both from memory; the
///             linear programme is solved by Clp (COIN-OR). Covariance: JCGM 100:2008, 5.2.2.
/// Input:      `basis` row by row, one row of `coefficients` numbers for each ordinate; columns
///             independent; no row of zeros only.
/// Error:      relative 1e-9 of the worst departure. The covariance is that of the touching points
///             as found. With rivals, which points touch is itself a matter of chance. Then the
///             worst departure holds the largest of the noise and is biased upwards, and the stated
///             uncertainties are too large: in pure noise about a line, 25 points, the worst
///             departure scatters half and the slope 0.4 times as much as stated
///             (tests/analysis/minimax_fit_test.cpp).
/// Refuses:    too_short (fewer ordinates than coefficients), bad_argument (sizes, a negative
///             uncertainty, columns not independent such as a table node without data, a row of
///             zeros), not_finite, no_fit (the linear programme was not solved).
[[nodiscard]] outcome<minimax_fit_result> minimax_fit(std::span<const double> basis,
                                                      std::size_t coefficients,
                                                      std::span<const double> y,
                                                      const ordinate_uncertainty& u = {});

/// y = intercept + slope * x with the least worst departure.
struct minimax_line_fit {
    double intercept{0.0};
    double slope{0.0};
    double u_intercept{0.0};
    double u_slope{0.0};
    double covariance{0.0};  ///< of intercept and slope
    double worst_departure{0.0};
    double u_worst_departure{0.0};
    std::vector<touching_point> touching;
    std::size_t rivals{0};
    std::size_t rivals_of_worst{0};

    [[nodiscard]] double at(double x) const noexcept { return intercept + slope * x; }
    /// The line at x and its standard uncertainty, covariance included.
    [[nodiscard]] prediction predict(double x) const noexcept;
};

/// The straight line of least worst departure.
///
/// Definition: as minimax_fit of 1 and x. Usually three points touch, with signs that alternate in
///             x. Where two points of equal x set the worst departure, the slope follows from the
///             worst of the rest.
/// Source:     as minimax_fit.
/// Input:      3 or more points, at least two different x; the same x may come several times.
/// Error:      as minimax_fit.
/// Refuses:    too_short, bad_argument (sizes, all x equal, a negative uncertainty), not_finite,
///             no_fit.
[[nodiscard]] outcome<minimax_line_fit> minimax_line(std::span<const double> x,
                                                     std::span<const double> y,
                                                     const ordinate_uncertainty& u = {});

}  // namespace cvrig::analysis
