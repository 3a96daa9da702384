#include "analysis/normality.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

/// ln Phi(z), with all its digits far out on either side.
double log_normal_below(double z) {
    const double below = 0.5 * std::erfc(-z / std::numbers::sqrt2);
    if (z > 0.0) return std::log1p(-0.5 * std::erfc(z / std::numbers::sqrt2));
    if (below > 0.0) return std::log(below);
    return -0.5 * z * z - std::log(-z * std::sqrt(2.0 * std::numbers::pi));
}

double probability_of(double a) {
    if (a < 0.2) return 1.0 - std::exp(-13.436 + a * (101.14 - a * 223.73));
    if (a < 0.34) return 1.0 - std::exp(-8.318 + a * (42.796 - a * 59.938));
    if (a < 0.6) return std::exp(0.9177 - a * (4.279 + a * 1.38));
    const double fitted = std::min(a, 10.0);  // the source fits no further
    return std::exp(1.2937 - fitted * (5.709 - fitted * 0.0186));
}

}  // namespace

outcome<normality_reading> measure_normality(std::span<const double> sample) {
    if (sample.size() < 8) return refuse(refusal::too_short);
    if (!all_finite(sample)) return refuse(refusal::not_finite);
    std::vector<double> sorted(sample.begin(), sample.end());
    std::ranges::sort(sorted);
    if (!(sorted.back() > sorted.front())) return refuse(refusal::bad_argument);
    const auto n = static_cast<double>(sorted.size());
    const double centre = mean(sorted);
    const double s = deviation(sorted) * std::sqrt(n / (n - 1.0));
    double sum = 0.0;
    for (std::size_t i = 0; i < sorted.size(); ++i) {
        const double low = (sorted[i] - centre) / s;
        const double high = (sorted[sorted.size() - 1 - i] - centre) / s;
        sum += (2.0 * static_cast<double>(i) + 1.0) *
               (log_normal_below(low) + log_normal_below(-high));
    }
    normality_reading out;
    out.statistic = (-n - sum / n) * (1.0 + 0.75 / n + 2.25 / (n * n));
    out.probability = std::clamp(probability_of(out.statistic), 0.0, 1.0);
    return out;
}

}  // namespace cvrig::analysis
