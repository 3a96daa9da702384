#include "analysis/minimax_fit.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "analysis/samples.hpp"
#include "analysis/strict_minimax.hpp"

namespace cvrig::analysis {
namespace {

using row_major = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
using index = Eigen::Index;

constexpr double dependent_columns = 1e-10;

bool makes_sense(const ordinate_uncertainty& u, std::size_t ordinates) {
    const auto bad = [](double v) { return !(std::isfinite(v) && v >= 0.0); };
    if (bad(u.common) || std::ranges::any_of(u.independent, bad)) return false;
    return u.independent.size() <= 1 || u.independent.size() == ordinates;
}

double independent_of(const ordinate_uncertainty& u, std::size_t i) {
    if (u.independent.empty()) return 0.0;
    return u.independent.size() == 1 ? u.independent[0] : u.independent[i];
}

/// Columns of size 1 and the least-squares residual, scaled to 1: what the search works on.
struct scaled_problem {
    Eigen::MatrixXd rows;
    Eigen::VectorXd column_size, start, residual;
    double size{0.0};
};

outcome<scaled_problem> scale(const Eigen::MatrixXd& basis, const Eigen::VectorXd& y) {
    if (basis.rowwise().lpNorm<Eigen::Infinity>().minCoeff() == 0.0)
        return refuse(refusal::bad_argument);
    scaled_problem p;
    p.column_size = basis.colwise().lpNorm<Eigen::Infinity>();
    if (p.column_size.minCoeff() == 0.0) return refuse(refusal::bad_argument);
    p.rows = basis * p.column_size.cwiseInverse().asDiagonal();
    Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr{p.rows};
    qr.setThreshold(dependent_columns);
    if (qr.rank() < basis.cols()) return refuse(refusal::bad_argument);
    p.start = qr.solve(y);
    p.residual = y - p.rows * p.start;
    p.size = p.residual.lpNorm<Eigen::Infinity>();
    constexpr double rounding = 1e-14;
    if (p.size <= rounding * y.lpNorm<Eigen::Infinity>()) p.size = 0.0;
    if (p.size > 0.0)
        p.residual /= p.size;
    else
        p.residual.setZero();
    return p;
}

/// Variance of a sum of touching ordinates times `of_touching`.
double variance(const Eigen::VectorXd& of_touching, const strict_minimax& s,
                const ordinate_uncertainty& u) {
    double sum = std::pow(of_touching.sum() * u.common, 2);
    for (std::size_t k = 0; k < s.touching.size(); ++k)
        sum += std::pow(of_touching[static_cast<index>(k)] * independent_of(u, s.touching[k].index),
                        2);
    return sum;
}

/// Whether noise might have point i touch: its distance from that is below twice its uncertainty.
bool is_rival(std::size_t i, std::size_t level, const scaled_problem& p, const strict_minimax& s,
              const ordinate_uncertainty& u) {
    const Eigen::RowVectorXd a = p.rows.row(static_cast<index>(i));
    const auto n = a.size();
    const double departure = p.residual[static_cast<index>(i)] - a * s.solution.head(n);
    const double sign = departure < 0.0 ? -1.0 : 1.0;
    Eigen::VectorXd change = sign * (a * s.inverse.topRows(n)).transpose();
    if (level < s.levels) change += s.inverse.row(n + static_cast<index>(level)).transpose();
    // The point's own ordinate counts too, and shares what is common.
    const double own = independent_of(u, i);
    const double common = (change.sum() - sign) * u.common;
    ordinate_uncertainty alone = u;
    alone.common = 0.0;
    const double u_margin = std::sqrt(variance(change, s, alone) + own * own + common * common);
    const double margin = (s.departure(level) - std::abs(departure)) * p.size;
    return margin < 2.0 * u_margin;
}

void count_rivals(minimax_fit_result& out, const scaled_problem& p, const strict_minimax& s,
                  const ordinate_uncertainty& u) {
    for (std::size_t i = 0; i < s.last_level.size(); ++i) {
        if (std::ranges::any_of(s.touching, [i](const auto& t) { return t.index == i; })) continue;
        out.rivals += is_rival(i, s.last_level[i], p, s, u) ? 1U : 0U;
        out.rivals_of_worst += is_rival(i, 0, p, s, u) ? 1U : 0U;
    }
}

std::vector<double> covariance_of(const Eigen::MatrixXd& map, const strict_minimax& s,
                                  const ordinate_uncertainty& u) {
    Eigen::VectorXd own(map.cols());
    for (std::size_t k = 0; k < s.touching.size(); ++k)
        own[static_cast<index>(k)] = independent_of(u, s.touching[k].index);
    const Eigen::MatrixXd scattered = map * own.asDiagonal();
    const Eigen::VectorXd common = map.rowwise().sum() * u.common;
    const row_major c = scattered * scattered.transpose() + common * common.transpose();
    return {c.data(), c.data() + c.size()};
}

minimax_fit_result result_of(const scaled_problem& p, const strict_minimax& s,
                             const ordinate_uncertainty& u) {
    const auto n = p.rows.cols();
    const auto unscale = p.column_size.cwiseInverse().asDiagonal();
    const Eigen::VectorXd c = unscale * (p.start + p.size * s.solution.head(n));
    minimax_fit_result out;
    out.coefficients.assign(c.data(), c.data() + n);
    out.covariance = covariance_of(unscale * s.inverse.topRows(n), s, u);
    out.touching = s.touching;
    out.worst_departure = s.departure(0) * p.size;
    if (s.levels > 0)
        out.u_worst_departure = std::sqrt(variance(s.inverse.row(n).transpose(), s, u));
    count_rivals(out, p, s, u);
    return out;
}

/// The linear programme only names the touching points; that they do touch is seen here.
bool is_least(const scaled_problem& p, const strict_minimax& s) {
    const Eigen::VectorXd left = p.residual - p.rows * s.solution.head(p.rows.cols());
    constexpr double allowed = 1e-9;
    return left.lpNorm<Eigen::Infinity>() <= s.departure(0) * (1.0 + allowed) + 1e-12;
}

}  // namespace

double minimax_fit_result::standard_uncertainty(std::size_t coefficient) const {
    return std::sqrt(covariance[coefficient * (coefficients.size() + 1)]);
}

prediction minimax_fit_result::predict(std::span<const double> weights) const {
    const auto n = static_cast<index>(coefficients.size());
    const Eigen::Map<const Eigen::VectorXd> w{weights.data(), n};
    const Eigen::Map<const Eigen::VectorXd> c{coefficients.data(), n};
    const Eigen::Map<const row_major> v{covariance.data(), n, n};
    return {w.dot(c), std::sqrt(std::max(0.0, w.dot(v * w)))};
}

outcome<minimax_fit_result> minimax_fit(std::span<const double> basis, std::size_t coefficients,
                                        std::span<const double> y, const ordinate_uncertainty& u) {
    if (coefficients == 0 || basis.size() != y.size() * coefficients || !makes_sense(u, y.size()))
        return refuse(refusal::bad_argument);
    if (y.size() < coefficients) return refuse(refusal::too_short);
    if (!all_finite(basis) || !all_finite(y)) return refuse(refusal::not_finite);
    const Eigen::Map<const row_major> rows{basis.data(), static_cast<index>(y.size()),
                                           static_cast<index>(coefficients)};
    const Eigen::Map<const Eigen::VectorXd> ordinates{y.data(), static_cast<index>(y.size())};
    const auto problem = scale(rows, ordinates);
    if (!problem) return refuse(problem.error());
    const auto found = find_strict_minimax(problem->rows, problem->residual);
    if (!found || !is_least(*problem, *found)) return refuse(refusal::no_fit);
    return result_of(*problem, *found, u);
}

}  // namespace cvrig::analysis
