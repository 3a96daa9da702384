#pragma once

#include <cstddef>
#include <functional>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"

/// Least-squares fits with covariance: the straight line, and any model by its residuals.
namespace cvrig::analysis {

/// A number and its standard uncertainty, both in the unit of the fitted ordinate.
struct prediction {
    double value{0.0};
    double standard_uncertainty{0.0};
};

/// y = intercept + slope * x. Uncertainties come from the scatter about the line, so none is
/// meaningful unless that scatter is random. Intercept and slope are correlated: an uncertainty on
/// the line comes from `predict`, never from `u_intercept` and `u_slope` alone.
struct line_fit {
    double intercept{0.0};
    double slope{0.0};
    double u_intercept{0.0};
    double u_slope{0.0};
    double covariance{0.0};   ///< of intercept and slope
    double residual_sd{0.0};  ///< sqrt(weighted sum of squares / degrees of freedom)
    double centre_x{0.0};     ///< weighted mean of x, where the line is known best
    double u_at_centre{0.0};  ///< standard uncertainty of the line there
    std::size_t degrees_of_freedom{0};

    [[nodiscard]] double at(double x) const noexcept { return intercept + slope * x; }
    /// The line at x and its standard uncertainty, covariance included (JCGM 100:2008, H.3.4).
    [[nodiscard]] prediction predict(double x) const noexcept;
    [[nodiscard]] double correlation() const noexcept;
};

/// Best straight line through points.
///
/// Definition: least weighted sum of squares of y; variances s^2 (X^T W X)^-1, s from the scatter.
/// Source:     JCGM 100:2008 (GUM), H.3, equations H.13; weighted form by the same derivation.
/// Input:      3 or more points, at least two different x; weights above 0 (1/u^2 of each y up to a
///             common factor), or none for equal weights.
/// Error:      relative 1e-12 of slope and 1e-11 of intercept on NIST StRD Norris.
/// Refuses:    too_short, bad_argument (lengths differ, all x equal, weight not above 0),
///             not_finite.
[[nodiscard]] outcome<line_fit> fit_line(std::span<const double> x, std::span<const double> y,
                                         std::span<const double> weights = {});

/// Departures of the points from a line: y - (intercept + slope * x), one for each pair.
///
/// Input:      x and y of equal length; the shorter length counts otherwise.
[[nodiscard]] std::vector<double> departures(const line_fit& line, std::span<const double> x,
                                             std::span<const double> y);

/// What a nonlinear fit minimises: the sum of squares of `points` residuals.
struct fit_model {
    using evaluate = std::function<void(std::span<const double> parameters, std::span<double> out)>;

    std::size_t points{0};
    /// Writes one residual (model - measured) for each point; weight them by 1/u to weight the fit.
    evaluate residuals;
    /// Writes d residual_i / d parameter_j at out[i * parameters.size() + j]. May be empty: central
    /// differences then stand in, at two evaluations for each parameter and step.
    evaluate jacobian{};
};

struct fit_options {
    std::size_t most_evaluations{4000};
    /// The fit has converged when the residuals are orthogonal to every column of the Jacobian to
    /// this cosine, or when a full Gauss-Newton step moves no parameter by more than this fraction
    /// of its standard deviation.
    double tolerance{1e-6};
};

struct nonlinear_fit {
    std::vector<double> parameters;
    std::vector<double> covariance;  ///< row by row, parameters.size() squared
    double rss{0.0};                 ///< residual sum of squares
    double residual_sd{0.0};         ///< sqrt(rss / degrees_of_freedom)
    std::size_t degrees_of_freedom{0};
    std::size_t iterations{0};

    [[nodiscard]] double standard_uncertainty(std::size_t parameter) const;
    /// 0 if the fit is exact, since nothing then scatters.
    [[nodiscard]] double correlation(std::size_t a, std::size_t b) const;
};

/// Nonlinear least squares by damped (Levenberg-Marquardt) steps, then undamped ones to polish.
///
/// Definition: parameters of least rss; covariance residual_sd^2 (J^T J)^-1 at the solution.
/// Source:     J. J. More, "The Levenberg-Marquardt algorithm: implementation and theory", 1978.
/// Input:      more points than parameters, a finite start; parameters may differ in size by many
///             powers of ten. The minimum found is the one that the start leads to.
/// Error:      relative 1e-8 of parameters on the NIST StRD sets tested, with analytic Jacobian.
/// Refuses:    too_short (no degree of freedom left), bad_argument (nothing to fit), not_finite
///             (residuals at the start), no_fit (not converged, or parameters not determined).
[[nodiscard]] outcome<nonlinear_fit> fit_nonlinear(const fit_model& model,
                                                   std::span<const double> start,
                                                   const fit_options& options = {});

}  // namespace cvrig::analysis
