#include "analysis/spread.hpp"

#include <algorithm>
#include <boost/math/distributions/binomial.hpp>
#include <cmath>
#include <numbers>
#include <vector>

#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

/// Largest distance between the steps of the inner observations and a straight line.
double distance_from_uniform(std::span<const double> sorted) {
    const auto inner = sorted.subspan(1, sorted.size() - 2);
    const double range = sorted.back() - sorted.front();
    const auto n = static_cast<double>(inner.size());
    double most = 0.0;
    for (std::size_t i = 0; i < inner.size(); ++i) {
        const double line = (inner[i] - sorted.front()) / range;
        const auto below = static_cast<double>(i) / n;
        most = std::max({most, line - below, below + 1.0 / n - line});
    }
    return most;
}

double kolmogorov(double distance, double n) {
    const double root = std::sqrt(n);
    const double lambda = (root + 0.12 + 0.11 / root) * distance;
    if (lambda < 0.3) return 1.0;
    double sum = 0.0;
    for (int k = 1; k <= 20; ++k)
        sum += (k % 2 == 1 ? 2.0 : -2.0) * std::exp(-2.0 * k * k * lambda * lambda);
    return std::clamp(sum, 0.0, 1.0);
}

}  // namespace

outcome<spread_reading> measure_spread(std::span<const double> observed, double u_each) {
    if (observed.size() < 8) return refuse(refusal::too_short);
    if (!all_finite(observed)) return refuse(refusal::not_finite);
    if (!(u_each >= 0.0)) return refuse(refusal::bad_argument);
    const auto n = static_cast<double>(observed.size());
    spread_reading out;
    out.mean = mean(observed);
    double second = 0.0;
    double fourth = 0.0;
    for (const double v : observed) {
        const double square = (v - out.mean) * (v - out.mean);
        second += square / n;
        fourth += square * square / n;
    }
    const double variance = second * n / (n - 1.0);
    out.u_mean = std::sqrt(variance / n);
    out.deviation = std::sqrt(std::max(0.0, variance - u_each * u_each));
    const double kurtosis = second > 0.0 ? std::max(1.0, fourth / (second * second)) : 3.0;
    const double u_variance = variance * std::sqrt((kurtosis - (n - 3.0) / (n - 1.0)) / n);
    // Where all scatter is the observer's, the deviation may be anything up to that.
    out.u_deviation = u_variance / (2.0 * std::max(out.deviation, std::sqrt(u_variance)));
    std::vector<double> sorted(observed.begin(), observed.end());
    std::ranges::sort(sorted);
    out.least = sorted.front();
    out.most = sorted.back();
    const double range = out.most - out.least;
    out.width = range * (n + 1.0) / (n - 1.0);
    out.u_width =
        std::hypot(out.width * std::sqrt(2.0 / ((n - 1.0) * (n + 2.0))), std::sqrt(2.0) * u_each);
    out.uniform_probability =
        range > 0.0 ? kolmogorov(distance_from_uniform(sorted), n - 2.0) : 0.0;
    return out;
}

outcome<extreme_reading> measure_largest(std::span<const double> observed, double u_each) {
    if (observed.empty()) return refuse(refusal::too_short);
    if (!all_finite(observed)) return refuse(refusal::not_finite);
    if (!(u_each >= 0.0)) return refuse(refusal::bad_argument);
    const double top = std::ranges::max(observed);
    if (u_each == 0.0) return extreme_reading{top, 0.0};
    // Only what lies near the top may become it.
    constexpr double near = 8.0, step = 0.02;
    std::vector<double> below;
    for (const double v : observed)
        if (top - v < near * u_each) below.push_back((top - v) / u_each);
    double before = 0.0, first = 0.0, second = 0.0;
    for (double x = -near; x < near; x += step) {
        double f = 1.0;
        for (const double d : below) f *= 0.5 * std::erfc(-(x + step + d) / std::numbers::sqrt2);
        const double middle = x + 0.5 * step;
        first += (f - before) * middle;
        second += (f - before) * middle * middle;
        before = f;
    }
    return extreme_reading{top - first * u_each,
                           u_each * std::sqrt(std::max(0.0, second - first * first))};
}

outcome<proportion_interval> clopper_pearson(unsigned successes, unsigned trials, double level) {
    if (trials == 0 || successes > trials || !(level > 0.0 && level < 1.0))
        return refuse(refusal::bad_argument);
    using binomial = boost::math::binomial_distribution<double>;
    const double tail = (1.0 - level) / 2.0;
    const auto n = static_cast<double>(trials);
    const auto k = static_cast<double>(successes);
    return proportion_interval{binomial::find_lower_bound_on_p(n, k, tail),
                               binomial::find_upper_bound_on_p(n, k, tail)};
}

}  // namespace cvrig::analysis
