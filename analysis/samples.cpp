#include "analysis/samples.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace cvrig::analysis {

bool all_finite(std::span<const double> x) noexcept {
    return std::ranges::all_of(x, [](double v) { return std::isfinite(v); });
}

double mean(std::span<const double> x) noexcept {
    return std::accumulate(x.begin(), x.end(), 0.0) / static_cast<double>(x.size());
}

double deviation(std::span<const double> x) noexcept {
    const double middle = mean(x);
    double squares = 0.0;
    for (const double v : x) squares += (v - middle) * (v - middle);
    return std::sqrt(squares / static_cast<double>(x.size()));
}

double dot(std::span<const double> a, std::span<const double> b) noexcept {
    // Four sums at once: the order is fixed, so every build gives the same bits, and none waits for
    // the one before.
    double sum[4] = {};
    std::size_t i = 0;
    for (; i + 4 <= a.size(); i += 4)
        for (std::size_t k = 0; k < 4; ++k) sum[k] += a[i + k] * b[i + k];
    for (; i < a.size(); ++i) sum[0] += a[i] * b[i];
    return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

}  // namespace cvrig::analysis
