#include <algorithm>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>
#include <numbers>
#include <optional>

#include "analysis/normal_sample.hpp"
#include "analysis/tolerance.hpp"

namespace cvrig::analysis {
namespace {

/// Probability that (z + noncentrality) / w is above t, z standard normal and w of the law. Unlike
/// Boost.Math's noncentral t, good for the far t of samples that happen to lie close together.
double noncentral_t_above(double t, double noncentrality, const deviation_law& law) {
    if (t == 0.0) return normal_below(noncentrality);
    if (t < 0.0) return 1.0 - noncentral_t_above(-t, -noncentrality, law);
    constexpr double far = 9.0;
    if (noncentrality <= -far) return 0.0;
    const auto density = [&](double z) {
        return std::exp(-0.5 * z * z) * law.below((z + noncentrality) / t);
    };
    using quadrature = boost::math::quadrature::gauss_kronrod<double, 31>;
    const double from = std::max(-far, -noncentrality);
    return quadrature::integrate(density, from, far, 12, 1e-9) * std::numbers::inv_sqrtpi /
           std::numbers::sqrt2;
}

/// The share beyond a limit k sample deviations above the mean that is exceeded with a
/// probability.
std::optional<double> beyond(double k, double n, double probability) {
    const double root = std::sqrt(n);
    const deviation_law law{n - 1.0};
    // What is estimated from s, and s off by more than it ever is.
    const double reach = root * (10.0 * std::abs(k) + 10.0) + 40.0;
    const auto excess = [&](double noncentrality) {
        return noncentral_t_above(k * root, noncentrality, law) - probability;
    };
    const auto noncentrality = root_of(excess, -reach, reach);
    if (!noncentrality) return std::nullopt;
    return normal_above(*noncentrality / root);
}

bool makes_sense(const tolerance_interval& t) {
    if (!t.lower && !t.upper) return false;
    if ((t.lower && !std::isfinite(*t.lower)) || (t.upper && !std::isfinite(*t.upper)))
        return false;
    return !(t.lower && t.upper) || *t.lower < *t.upper;
}

}  // namespace

outcome<share_reading> share_within(double mean, double standard_deviation, unsigned units,
                                    const tolerance_interval& permitted, double confidence) {
    if (units < 2 || !std::isfinite(mean) || !std::isfinite(standard_deviation) ||
        !(standard_deviation > 0.0) || !(confidence > 0.0 && confidence < 1.0) ||
        !makes_sense(permitted))
        return refuse(refusal::bad_argument);
    const double doubt = (1.0 - confidence) / (permitted.lower && permitted.upper ? 2.0 : 1.0);
    double estimate = 1.0, most_inside = 1.0, least_inside = 1.0;
    const auto take_off = [&](double k) {
        const auto most = beyond(k, units, doubt);
        const auto least = beyond(k, units, 1.0 - doubt);
        if (!most || !least) return false;
        estimate -= normal_above(k);
        least_inside -= *most;
        most_inside -= *least;
        return true;
    };
    if (permitted.lower && !take_off((mean - *permitted.lower) / standard_deviation))
        return refuse(refusal::no_fit);
    if (permitted.upper && !take_off((*permitted.upper - mean) / standard_deviation))
        return refuse(refusal::no_fit);
    return share_reading{std::max(0.0, estimate), std::max(0.0, least_inside),
                         std::max(0.0, most_inside)};
}

}  // namespace cvrig::analysis
