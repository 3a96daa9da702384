#include "analysis/robust_fit.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "analysis/samples.hpp"

namespace cvrig::analysis {

namespace {

constexpr double mad_to_sigma =
    1.4826;  // 1 / 0.6745, the upper quartile of the normal distribution
constexpr int rounds = 40;

double median_distance(const Eigen::VectorXd& off) {
    std::vector<double> distances(static_cast<std::size_t>(off.size()));
    for (Eigen::Index i = 0; i < off.size(); ++i)
        distances[static_cast<std::size_t>(i)] = std::abs(off[i]);
    return median_of(std::move(distances));
}

}  // namespace

double median_of(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    if (values.size() % 2 == 1) return *middle;
    return 0.5 * (*middle + *std::max_element(values.begin(), middle));
}

double robust_polynomial::operator()(double x) const noexcept {
    double sum = 0.0;
    for (auto c = coefficients.rbegin(); c != coefficients.rend(); ++c) sum = sum * x + *c;
    return sum;
}

outcome<robust_polynomial> fit_robust(std::span<const double> x, std::span<const double> y,
                                      std::size_t degree) {
    if (x.size() != y.size()) return refuse(refusal::bad_argument);
    if (x.size() < 4 * (degree + 1)) return refuse(refusal::too_short);
    if (!all_finite(x) || !all_finite(y)) return refuse(refusal::not_finite);
    const auto [least, most] = std::ranges::minmax(x);
    if (degree > 0 && !(most > least)) return refuse(refusal::no_fit);
    const auto n = static_cast<Eigen::Index>(x.size());
    Eigen::MatrixXd basis(n, static_cast<Eigen::Index>(degree + 1));
    for (Eigen::Index i = 0; i < n; ++i)
        for (Eigen::Index k = 0; k < basis.cols(); ++k)
            basis(i, k) = std::pow(x[static_cast<std::size_t>(i)], static_cast<double>(k));
    const Eigen::Map<const Eigen::VectorXd> values(y.data(), n);
    Eigen::VectorXd weights = Eigen::VectorXd::Ones(n);
    Eigen::VectorXd found, off;
    for (int round = 0; round < rounds; ++round) {
        const Eigen::MatrixXd weighted = basis.transpose() * weights.asDiagonal();
        const auto solver = (weighted * basis).ldlt();
        if (solver.info() != Eigen::Success || !(solver.rcond() > 1e-12))
            return refuse(refusal::no_fit);
        found = solver.solve(weighted * values);
        off = values - basis * found;
        // Nearer than this to the course, a point need not weigh more.
        const double near = std::max(1e-9, 0.1 * median_distance(off));
        weights = off.cwiseAbs().cwiseMax(near).cwiseInverse();
        weights *= 1.0 / weights.maxCoeff();
    }
    return robust_polynomial{{found.data(), found.data() + found.size()},
                             mad_to_sigma * median_distance(off)};
}

}  // namespace cvrig::analysis
