#include "analysis/crossed_likelihood.hpp"

#include <cmath>

namespace cvrig::analysis {
namespace {

using index = Eigen::Index;

}  // namespace

crossed_likelihood::crossed_likelihood(std::span<const crossed_observation> observed,
                                       std::size_t units, std::size_t builds)
    : counts_{Eigen::MatrixXd::Zero(static_cast<index>(units), static_cast<index>(builds))},
      unit_sums_{Eigen::VectorXd::Zero(static_cast<index>(units))},
      build_sums_{Eigen::VectorXd::Zero(static_cast<index>(builds))},
      observations_{static_cast<double>(observed.size())} {
    for (const auto& o : observed) centre_ += o.value / observations_;
    for (const auto& o : observed) {
        const auto u = static_cast<index>(o.unit), b = static_cast<index>(o.build);
        const double v = o.value - centre_;  // no digits lost to what all have in common
        counts_(u, b) += 1.0;
        unit_sums_[u] += v;
        build_sums_[b] += v;
        squares_ += v * v;
    }
    unit_counts_ = counts_.rowwise().sum();
    build_counts_ = counts_.colwise().sum().transpose();
    explain();
}

void crossed_likelihood::explain() {
    const auto m = unit_counts_.size(), k = build_counts_.size();
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(m + k, m + k);
    normal.topLeftCorner(m, m).diagonal() = unit_counts_;
    normal.bottomRightCorner(k, k).diagonal() = build_counts_;
    normal.topRightCorner(m, k) = counts_;
    normal.bottomLeftCorner(k, m) = counts_.transpose();
    Eigen::VectorXd sums(m + k);
    sums << unit_sums_, build_sums_;
    Eigen::CompleteOrthogonalDecomposition<Eigen::MatrixXd> solver;
    solver.setThreshold(1e-10);
    solver.compute(normal);
    freedom_ = static_cast<index>(observations_) - solver.rank();
    const double explained = sums.dot(solver.solve(sums));
    unexplained_share_ = squares_ > 0.0 ? 1.0 - explained / squares_ : 0.0;
}

bool crossed_likelihood::is_complete() const {
    return unit_counts_.minCoeff() > 0.0 && build_counts_.minCoeff() > 0.0;
}

double crossed_likelihood::spread() const {
    return std::sqrt(squares_ / observations_);
}

bool crossed_likelihood::can_tell_apart() const {
    // Inner products of the three patterns of covariance about the mean: their matrix is singular
    // if one pattern is made of the others.
    const auto about = [this](const Eigen::MatrixXd& a, const Eigen::VectorXd& r,
                              const Eigen::VectorXd& c) -> Eigen::MatrixXd {
        return a - r * c.transpose() / observations_;
    };
    const Eigen::MatrixXd uu = about(unit_counts_.asDiagonal(), unit_counts_, unit_counts_);
    const Eigen::MatrixXd bb = about(build_counts_.asDiagonal(), build_counts_, build_counts_);
    const Eigen::MatrixXd ub = about(counts_, unit_counts_, build_counts_);
    Eigen::Matrix3d products;
    products << uu.squaredNorm(), ub.squaredNorm(), uu.trace(),  //
        ub.squaredNorm(), bb.squaredNorm(), bb.trace(),          //
        uu.trace(), bb.trace(), observations_ - 1.0;
    const Eigen::Vector3d size = products.diagonal().cwiseSqrt().cwiseInverse();
    const Eigen::Matrix3d scaled = size.asDiagonal() * products * size.asDiagonal();
    return Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>{scaled}.eigenvalues()[0] > 1e-9;
}

crossed_likelihood::parts crossed_likelihood::evaluate(double unit_ratio,
                                                       double build_ratio) const {
    // Henderson's equations for effects in units of their own deviations; the factor with more
    // levels is eliminated first, as its block is diagonal.
    const bool units_first = unit_counts_.size() >= build_counts_.size();
    const double many = units_first ? unit_ratio : build_ratio;
    const double few = units_first ? build_ratio : unit_ratio;
    const auto& many_counts = units_first ? unit_counts_ : build_counts_;
    const auto& few_counts = units_first ? build_counts_ : unit_counts_;
    Eigen::MatrixXd cross = units_first ? counts_ : Eigen::MatrixXd{counts_.transpose()};
    cross *= many * few;
    const Eigen::VectorXd diagonal = (many * many * many_counts).array() + 1.0;
    Eigen::MatrixXd left = -cross.transpose() * diagonal.cwiseInverse().asDiagonal() * cross;
    left.diagonal().array() += 1.0 + few * few * few_counts.array();
    const Eigen::LLT<Eigen::MatrixXd> factor{left};

    // Columns: what belongs to the mean, and to the observations.
    Eigen::MatrixXd a(many_counts.size(), 2), b(few_counts.size(), 2);
    a << many * many_counts, many * (units_first ? unit_sums_ : build_sums_);
    b << few * few_counts, few * (units_first ? build_sums_ : unit_sums_);
    const Eigen::MatrixXd scaled = diagonal.cwiseInverse().asDiagonal() * a;
    const Eigen::MatrixXd rest = factor.matrixL().solve(b - cross.transpose() * scaled);
    const Eigen::Matrix2d taken = a.transpose() * scaled + rest.transpose() * rest;

    parts out;
    out.weight = observations_ - taken(0, 0);
    out.mean = -taken(0, 1) / out.weight;
    out.squares = squares_ - taken(1, 1) - out.weight * out.mean * out.mean;
    out.log_determinant = diagonal.array().log().sum() +
                          2.0 * factor.matrixLLT().diagonal().array().log().sum() +
                          std::log(out.weight);
    return out;
}

double crossed_likelihood::best_rest(double unit_ratio, double build_ratio) const {
    return std::sqrt(evaluate(unit_ratio, build_ratio).squares / (observations_ - 1.0));
}

double crossed_likelihood::criterion(double unit_ratio, double build_ratio) const {
    const auto p = evaluate(unit_ratio, build_ratio);
    const double n = observations_ - 1.0;
    return p.log_determinant + n * (1.0 + std::log(p.squares / n));
}

double crossed_likelihood::criterion(const crossed_deviations& d) const {
    const auto p = evaluate(d.unit / d.rest, d.build / d.rest);
    return p.log_determinant + 2.0 * (observations_ - 1.0) * std::log(d.rest) +
           p.squares / (d.rest * d.rest);
}

void crossed_likelihood::predict(const crossed_deviations& d, crossed_components& out) const {
    const auto m = unit_counts_.size(), k = build_counts_.size();
    const double u = d.unit / d.rest, b = d.build / d.rest;
    Eigen::MatrixXd equations = Eigen::MatrixXd::Identity(m + k, m + k);
    equations.topLeftCorner(m, m).diagonal() += u * u * unit_counts_;
    equations.bottomRightCorner(k, k).diagonal() += b * b * build_counts_;
    equations.topRightCorner(m, k) = u * b * counts_;
    equations.bottomLeftCorner(k, m) = u * b * counts_.transpose();
    const Eigen::MatrixXd inverse = equations.llt().solve(Eigen::MatrixXd::Identity(m + k, m + k));
    Eigen::VectorXd of_mean(m + k), of_values(m + k), size(m + k);
    of_mean << u * unit_counts_, b * build_counts_;
    of_values << u * unit_sums_, b * build_sums_;
    size << Eigen::VectorXd::Constant(m, u), Eigen::VectorXd::Constant(k, b);
    const Eigen::VectorXd taken = inverse * of_mean;
    const double weight = observations_ - of_mean.dot(taken);
    const double mean = -of_values.dot(taken) / weight;
    out.mean = centre_ + mean;
    out.u_mean = d.rest / std::sqrt(weight);
    const Eigen::VectorXd effects =
        size.asDiagonal() * Eigen::VectorXd{inverse * (of_values - mean * of_mean)};
    for (index i = 0; i < m + k; ++i) {
        const double variance = inverse(i, i) + taken[i] * taken[i] / weight;
        auto& list = i < m ? out.unit_effects : out.build_effects;
        list.push_back({effects[i], d.rest * size[i] * std::sqrt(variance)});
    }
}

}  // namespace cvrig::analysis
