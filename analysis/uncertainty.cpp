#include "analysis/uncertainty.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

#include "analysis/samples.hpp"

namespace cvrig::analysis {

namespace {

using row_major = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
using map = Eigen::Map<const row_major>;

bool is_uncertainty(double u) {
    return std::isfinite(u) && u >= 0;
}

std::vector<double> flatten(const row_major& m) {
    return {m.data(), m.data() + m.size()};
}

map as_matrix(std::span<const double> numbers, std::size_t columns) {
    return {numbers.data(), static_cast<Eigen::Index>(numbers.size() / columns),
            static_cast<Eigen::Index>(columns)};
}

bool makes_sense(const tolerance_interval& t) {
    if (!t.lower && !t.upper) return false;
    if ((t.lower && !std::isfinite(*t.lower)) || (t.upper && !std::isfinite(*t.upper)))
        return false;
    return !(t.lower && t.upper) || *t.lower <= *t.upper;
}

/// Distance inside the nearest end; negative when outside.
double margin(double value, const tolerance_interval& t) {
    if (!t.lower) return *t.upper - value;
    if (!t.upper) return value - *t.lower;
    return std::min(value - *t.lower, *t.upper - value);
}

double normal_cdf(double z) {
    return boost::math::cdf(boost::math::normal{}, z);
}

}  // namespace

const contribution* uncertainty_budget::largest() const noexcept {
    const auto it = std::max_element(parts.begin(), parts.end(), [](const auto& a, const auto& b) {
        return a.standard_uncertainty < b.standard_uncertainty;
    });
    return it == parts.end() ? nullptr : &*it;
}

outcome<uncertainty_budget> combine(std::vector<contribution> parts) {
    double u = 0;
    for (const auto& part : parts) {
        if (!is_uncertainty(part.standard_uncertainty)) return refuse(refusal::bad_argument);
        u = std::hypot(u, part.standard_uncertainty);
    }
    return uncertainty_budget{u, std::move(parts)};
}

outcome<std::vector<double>> covariance_of_means(std::span<const double> observations,
                                                 std::size_t quantities) {
    if (quantities == 0 || observations.size() % quantities != 0)
        return refuse(refusal::bad_argument);
    if (observations.size() < 2 * quantities) return refuse(refusal::too_short);
    if (!all_finite(observations)) return refuse(refusal::not_finite);
    const auto rows = as_matrix(observations, quantities);
    const row_major centred = rows.rowwise() - rows.colwise().mean();
    const auto n = static_cast<double>(rows.rows());
    return flatten(centred.transpose() * centred / (n * (n - 1)));
}

outcome<std::vector<double>> propagate(std::span<const double> covariance,
                                       std::span<const double> sensitivities) {
    const auto n =
        static_cast<std::size_t>(std::lround(std::sqrt(static_cast<double>(covariance.size()))));
    if (n == 0 || n * n != covariance.size() || sensitivities.empty() ||
        sensitivities.size() % n != 0)
        return refuse(refusal::bad_argument);
    if (!all_finite(covariance) || !all_finite(sensitivities)) return refuse(refusal::not_finite);
    const auto v = as_matrix(covariance, n);
    const auto c = as_matrix(sensitivities, n);
    return flatten(c * v * c.transpose());
}

outcome<double> effective_degrees_of_freedom(std::span<const estimated_part> parts) {
    double variance = 0;
    double shares = 0;
    for (const auto& part : parts) {
        if (!is_uncertainty(part.standard_uncertainty) || !(part.degrees_of_freedom > 0))
            return refuse(refusal::bad_argument);
        const double v = part.standard_uncertainty * part.standard_uncertainty;
        variance += v;
        shares += v * v / part.degrees_of_freedom;
    }
    if (!(variance > 0)) return refuse(refusal::bad_argument);
    return variance * variance / shares;
}

outcome<double> coverage_factor(double level, double degrees_of_freedom) {
    if (!(level > 0 && level < 1) || !(degrees_of_freedom > 0))
        return refuse(refusal::bad_argument);
    const double upper_tail = (1 - level) / 2;
    if (std::isinf(degrees_of_freedom))
        return boost::math::quantile(boost::math::complement(boost::math::normal{}, upper_tail));
    const boost::math::students_t t{degrees_of_freedom};
    return boost::math::quantile(boost::math::complement(t, upper_tail));
}

outcome<double> conformance_probability(double value, double standard_uncertainty,
                                        const tolerance_interval& permitted) {
    if (!std::isfinite(value) || !is_uncertainty(standard_uncertainty) || !makes_sense(permitted))
        return refuse(refusal::bad_argument);
    if (standard_uncertainty == 0) return margin(value, permitted) >= 0 ? 1.0 : 0.0;
    const auto below = [&](const std::optional<double>& end, double otherwise) {
        return end ? normal_cdf((*end - value) / standard_uncertainty) : otherwise;
    };
    return below(permitted.upper, 1.0) - below(permitted.lower, 0.0);
}

outcome<decision> decide(double value, double standard_uncertainty, double coverage_factor,
                         const tolerance_interval& permitted) {
    if (!std::isfinite(value) || !is_uncertainty(standard_uncertainty) ||
        !is_uncertainty(coverage_factor) || !makes_sense(permitted))
        return refuse(refusal::bad_argument);
    const double expanded = coverage_factor * standard_uncertainty;
    const double inside_by = margin(value, permitted);
    if (inside_by >= expanded) return decision::inside;
    if (-inside_by >= expanded) return decision::outside;
    return decision::undecided;
}

}  // namespace cvrig::analysis
