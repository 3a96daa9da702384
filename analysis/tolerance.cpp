#include "analysis/tolerance.hpp"

#include <array>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <exception>

#include "analysis/normal_sample.hpp"

namespace cvrig::analysis {
namespace {

bool is_inner(double p) {
    return p > 0.0 && p < 1.0;
}

/// Half-width about a centre z off the mean that holds the share, in standard deviations.
double half_width(double z, double share) {
    double low = 0.0;
    double high = std::abs(z) + 10.0;
    for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (low + high);
        const double outside = normal_above(middle - z) + normal_above(middle + z);
        (outside > 1.0 - share ? low : high) = middle;
    }
    return 0.5 * (low + high);
}

}  // namespace

outcome<double> one_sided_tolerance_factor(unsigned units, double share, double confidence) {
    if (units < 2 || !is_inner(share) || !is_inner(confidence))
        return refuse(refusal::bad_argument);
    const double root = std::sqrt(static_cast<double>(units));
    const double z = boost::math::quantile(boost::math::normal{}, share);
    try {
        const boost::math::non_central_t t{units - 1.0, z * root};
        const double k = boost::math::quantile(t, confidence) / root;
        if (std::isfinite(k)) return k;
    } catch (const std::exception&) {  // Boost.Math says so where its series do not converge
    }
    return refuse(refusal::no_fit);
}

outcome<double> two_sided_tolerance_factor(unsigned units, double share, double confidence) {
    if (units < 2 || !is_inner(share) || !is_inner(confidence))
        return refuse(refusal::bad_argument);
    const double root = std::sqrt(static_cast<double>(units));
    std::array<double, mean_nodes.size()> reach{};
    for (std::size_t i = 0; i < reach.size(); ++i)
        reach[i] = half_width(mean_nodes[i] / root, share);
    const deviation_law s{units - 1.0};
    const auto excess = [&](double log_k) {
        const double k = std::exp(log_k);
        return over_means([&](std::size_t i) { return s.above(reach[i] / k); }) - confidence;
    };
    const auto log_k = root_of(excess, std::log(1e-8), std::log(1e8));
    if (!log_k) return refuse(refusal::no_fit);
    return std::exp(*log_k);
}

}  // namespace cvrig::analysis
