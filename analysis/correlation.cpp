#include "analysis/correlation.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/fourier.hpp"
#include "analysis/interpolation.hpp"

namespace cvrig::analysis {

namespace {

/// Sum over n of conj(A) B by lag, circular, from one transform of a + i b.
std::vector<complex_volts> circular_products(std::span<const double> a, std::span<const double> b,
                                             std::size_t size) {
    std::vector<complex_volts> both(size);
    for (std::size_t i = 0; i < a.size(); ++i) both[i] = {a[i], b[i]};
    const auto z = transform(both);
    for (std::size_t k = 0; k < size; ++k) {
        const auto mirror = std::conj(z[(size - k) % size]);
        const auto from_a = (z[k] + mirror) * 0.5;
        const auto from_b = (z[k] - mirror) * complex_volts{0, -0.5};
        both[k] = std::conj(from_a) * from_b / static_cast<double>(size);
    }
    return transform(both, true);
}

std::vector<double> running_energy(std::span<const double> x) {
    std::vector<double> sum(x.size() + 1, 0.0);
    for (std::size_t i = 0; i < x.size(); ++i) sum[i + 1] = sum[i] + x[i] * x[i];
    return sum;
}

struct peak {
    double lag_index;
    double height;
};

/// Value between the lags: correlation by lag is itself a band-limited record.
kernel_point between(std::span<const double> c, double at) {
    const auto middle = static_cast<std::ptrdiff_t>(std::lround(at));
    kernel_point sum{0, 0};
    for (auto i = middle - kernel_reach + 1; i < middle + kernel_reach; ++i) {
        const auto h = interpolation_kernel(at - static_cast<double>(i));
        sum.value += c[static_cast<std::size_t>(i)] * h.value;
        sum.slope += c[static_cast<std::size_t>(i)] * h.slope;
    }
    return sum;
}

/// Halves the bracket around a peak until the slope's zero is known to 2^-12 lag.
peak refine(std::span<const double> c, std::size_t index) {
    double low = static_cast<double>(index) - 1, high = static_cast<double>(index) + 1;
    const double sign = c[index] < 0 ? -1.0 : 1.0;
    for (int step = 0; step < 13; ++step) {
        const double middle = (low + high) / 2;
        (sign * between(c, middle).slope > 0 ? low : high) = middle;
    }
    const double at = (low + high) / 2;
    return {at, std::abs(between(c, at).value)};
}

std::vector<peak> candidates(std::span<const double> c, std::size_t border) {
    const auto inside = c.subspan(border, c.size() - 2 * border);
    double best = 0;
    for (const double v : inside) best = std::max(best, std::abs(v));
    std::vector<peak> found;
    for (std::size_t i = border; i < c.size() - border; ++i) {
        const double here = std::abs(c[i]);
        // A peak between two lags may show up to a tenth lower on them.
        if (here >= 0.9 * best && here >= std::abs(c[i - 1]) && here >= std::abs(c[i + 1]))
            found.push_back(refine(c, i));
    }
    return found;
}

}  // namespace

std::vector<double> correlation_by_lag(std::span<const double> a, std::span<const double> b,
                                       std::size_t longest) {
    const std::size_t n = a.size(), size = fast_length_at_least(n + longest);
    const auto products = circular_products(a, b, size);
    const auto energy_a = running_energy(a), energy_b = running_energy(b);
    std::vector<double> c(2 * longest + 1);
    for (std::size_t i = 0; i < c.size(); ++i) {
        const bool later = i >= longest;
        const std::size_t shift = later ? i - longest : longest - i;
        const double front_a = energy_a[n - shift], back_a = energy_a[n] - energy_a[shift];
        const double front_b = energy_b[n - shift], back_b = energy_b[n] - energy_b[shift];
        const double energy = later ? front_a * back_b : back_a * front_b;
        const double product = products[later ? shift : (size - shift) % size].real();
        c[i] = energy > 0 ? product / std::sqrt(energy) : 0.0;
    }
    return c;
}

std::optional<double> nearest_good_lag(std::span<const double> coefficients, std::size_t longest) {
    const std::size_t zero_index = coefficients.size() / 2;
    const auto found = candidates(coefficients, zero_index - longest);
    if (found.empty()) return std::nullopt;
    double best = 0;
    for (const auto& p : found) best = std::max(best, p.height);
    // Peaks of a periodic sound differ by the kernel's error and by a share of what does not match.
    const double good = best - 1e-3 - 0.1 * std::max(0.0, 1 - best);
    const auto zero = static_cast<double>(zero_index);
    std::optional<double> nearest;
    for (const auto& p : found) {
        const double lag = p.lag_index - zero;
        if (p.height >= good && (!nearest || std::abs(lag) < std::abs(*nearest))) nearest = lag;
    }
    return nearest;
}

}  // namespace cvrig::analysis
