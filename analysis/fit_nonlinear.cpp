#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <unsupported/Eigen/NonLinearOptimization>

#include "analysis/fit.hpp"

namespace cvrig::analysis {

namespace {

using vector = Eigen::VectorXd;
using matrix = Eigen::MatrixXd;

std::span<const double> view(const vector& v) {
    return {v.data(), static_cast<std::size_t>(v.size())};
}

/// The model in the form that Eigen's port of MINPACK asks for (its names, its int results).
class problem {
public:
    problem(const fit_model& model, std::size_t parameters)
        : model_{model},
          points_{static_cast<Eigen::Index>(model.points)},
          parameters_{static_cast<Eigen::Index>(parameters)} {}

    [[nodiscard]] int inputs() const { return static_cast<int>(parameters_); }
    [[nodiscard]] int values() const { return static_cast<int>(points_); }

    int operator()(const vector& p, vector& residuals) const {
        residuals.resize(points_);
        model_.residuals(view(p), {residuals.data(), model_.points});
        return 0;
    }

    int df(const vector& p, matrix& jacobian) const {
        jacobian.resize(points_, parameters_);
        if (model_.jacobian)
            analytic(p, jacobian);
        else
            central_differences(p, jacobian);
        // A wild trial point may overflow; a zero row keeps the factorisation alive there.
        jacobian = jacobian.unaryExpr([](double d) { return std::isfinite(d) ? d : 0.0; });
        return 0;
    }

private:
    void analytic(const vector& p, matrix& jacobian) const {
        Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> rows(points_,
                                                                                    parameters_);
        model_.jacobian(view(p), {rows.data(), static_cast<std::size_t>(rows.size())});
        jacobian = rows;
    }

    void central_differences(const vector& p, matrix& jacobian) const {
        // Cube root of the rounding unit balances rounding against the third derivative.
        const double relative = std::cbrt(std::numeric_limits<double>::epsilon());
        vector above, below;
        for (Eigen::Index j = 0; j < parameters_; ++j) {
            const double h = relative * (p[j] != 0 ? std::abs(p[j]) : 1.0);
            vector q = p;
            q[j] = p[j] + h;
            (*this)(q, above);
            const double upper = q[j];
            q[j] = p[j] - h;
            (*this)(q, below);
            jacobian.col(j) = (above - below) / (upper - q[j]);
        }
    }

    const fit_model& model_;
    Eigen::Index points_;
    Eigen::Index parameters_;
};

/// State at one set of parameters, with Jacobian columns scaled to unit length so that parameters
/// of very different size are treated alike.
struct local {
    vector residuals;
    vector scale;
    Eigen::ColPivHouseholderQR<matrix> factors;
    double rss{0};
    double steepest_cosine{0};  ///< largest cosine between the residuals and a Jacobian column

    [[nodiscard]] bool determined() const { return factors.rank() == scale.size(); }
    [[nodiscard]] vector gauss_newton_step() const {
        return (-factors.solve(residuals)).cwiseQuotient(scale);
    }
    [[nodiscard]] matrix inverse_normal() const {
        const auto n = scale.size();
        const matrix upper = factors.matrixR().topLeftCorner(n, n).triangularView<Eigen::Upper>();
        const matrix inverse = upper.triangularView<Eigen::Upper>().solve(matrix::Identity(n, n));
        const matrix permuted = factors.colsPermutation() * inverse;
        const vector unit = scale.cwiseInverse();
        return unit.asDiagonal() * (permuted * permuted.transpose()) * unit.asDiagonal();
    }
};

std::optional<local> look_around(const problem& task, const vector& p) {
    local here;
    matrix jacobian;
    task(p, here.residuals);
    if (!here.residuals.allFinite()) return std::nullopt;
    task.df(p, jacobian);
    here.rss = here.residuals.squaredNorm();
    here.scale = jacobian.colwise().norm();
    if (!(here.scale.minCoeff() > 0)) return std::nullopt;
    jacobian = jacobian * here.scale.cwiseInverse().asDiagonal();
    const double norm = std::sqrt(here.rss);
    here.steepest_cosine =
        norm > 0 ? (jacobian.transpose() * here.residuals).cwiseAbs().maxCoeff() / norm : 0.0;
    // Difference quotients are good to ten digits, so columns nearer to dependent than this are
    // dependent for all that is known.
    here.factors.setThreshold(1e-9);
    here.factors.compute(jacobian);
    return here;
}

std::size_t damped_search(problem& task, vector& p, const fit_options& options) {
    Eigen::LevenbergMarquardt<problem> search{task};
    // Stop only at rounding: these sets have long flat valleys that look like an end.
    search.parameters.ftol = search.parameters.xtol = 4 * std::numeric_limits<double>::epsilon();
    search.parameters.gtol = 0;
    // First step no longer than the start itself (scaled): BoxBOD is lost at the usual 100.
    search.parameters.factor = 1;
    search.parameters.maxfev = static_cast<Eigen::Index>(options.most_evaluations);
    search.minimize(p);
    return static_cast<std::size_t>(search.iter);
}

/// Undamped steps for as long as they gain: orthogonal solution brings the last digits.
local polish(const problem& task, vector& p, local here) {
    for (int step = 0; step < 5 && here.determined(); ++step) {
        const vector next = p + here.gauss_newton_step();
        auto there = look_around(task, next);
        if (!there || !(there->steepest_cosine < here.steepest_cosine)) break;
        p = next;
        here = std::move(*there);
    }
    return here;
}

bool converged(const local& here, const vector& deviations, const vector& p, double tolerance) {
    if (here.steepest_cosine <= tolerance) return true;
    const vector step = here.gauss_newton_step().cwiseAbs();
    // An exact fit has no deviations to compare with; rounding of the parameters decides then.
    const vector allowed = tolerance * deviations + 1e-12 * p.cwiseAbs();
    return (step.array() <= allowed.array()).all();
}

nonlinear_fit report(const local& here, const vector& p, std::size_t points) {
    const auto n = static_cast<std::size_t>(p.size());
    nonlinear_fit fit;
    fit.degrees_of_freedom = points - n;
    fit.rss = here.rss;
    fit.residual_sd = std::sqrt(here.rss / static_cast<double>(fit.degrees_of_freedom));
    fit.parameters.assign(p.data(), p.data() + p.size());
    const matrix covariance = fit.residual_sd * fit.residual_sd * here.inverse_normal();
    fit.covariance.assign(covariance.data(), covariance.data() + covariance.size());
    return fit;
}

}  // namespace

double nonlinear_fit::standard_uncertainty(std::size_t parameter) const {
    return std::sqrt(covariance.at(parameter * parameters.size() + parameter));
}

double nonlinear_fit::correlation(std::size_t a, std::size_t b) const {
    const double product = standard_uncertainty(a) * standard_uncertainty(b);
    return product > 0 ? covariance.at(a * parameters.size() + b) / product : 0.0;
}

outcome<nonlinear_fit> fit_nonlinear(const fit_model& model, std::span<const double> start,
                                     const fit_options& options) {
    if (start.empty() || !model.residuals) return refuse(refusal::bad_argument);
    if (model.points <= start.size()) return refuse(refusal::too_short);
    problem task{model, start.size()};
    vector p = Eigen::Map<const vector>(start.data(), static_cast<Eigen::Index>(start.size()));
    vector residuals;
    task(p, residuals);
    if (!p.allFinite() || !residuals.allFinite()) return refuse(refusal::not_finite);

    const auto iterations = damped_search(task, p, options);
    auto found = look_around(task, p);
    if (!found) return refuse(refusal::no_fit);
    const local here = polish(task, p, std::move(*found));
    if (!here.determined()) return refuse(refusal::no_fit);
    auto fit = report(here, p, model.points);
    fit.iterations = iterations;
    vector deviations(p.size());
    for (Eigen::Index j = 0; j < p.size(); ++j)
        deviations[j] = fit.standard_uncertainty(static_cast<std::size_t>(j));
    if (!converged(here, deviations, p, options.tolerance)) return refuse(refusal::no_fit);
    return fit;
}

}  // namespace cvrig::analysis
