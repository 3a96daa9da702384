#include "analysis/window.hpp"

#include <array>
#include <cmath>
#include <complex>
#include <numbers>
#include <numeric>

#include "analysis/samples.hpp"

namespace cvrig::analysis {

namespace {

struct published {
    std::string_view name;
    std::array<double, 7> coefficients;  ///< the unused ones are 0
    std::size_t count;
};

const published& published_as(window_kind kind) noexcept {
    // In the order of window_kind.
    static constexpr std::array<published, 10> table{{
        {"rectangular", {1.0}, 1},
        {"Hann", {0.5, 0.5}, 2},
        {"Hamming", {0.54, 0.46}, 2},
        {"Blackman", {0.42, 0.50, 0.08}, 3},
        {"Blackman-Harris", {0.35875, 0.48829, 0.14128, 0.01168}, 4},
        {"Nuttall", {0.3635819, 0.4891775, 0.1365995, 0.0106411}, 4},
        {"HFT70", {1.0, 1.90796, 1.07349, 0.18199}, 4},
        {"HFT95", {1.0, 1.9383379, 1.3045202, 0.4028270, 0.0350665}, 5},
        {"HFT116D", {1.0, 1.9575375, 1.4780705, 0.6367431, 0.1228389, 0.0066288}, 6},
        {"HFT144D",
         {1.0, 1.96760033, 1.57983607, 0.81123644, 0.22583558, 0.02773848, 0.00090360},
         7},
    }};
    return table[static_cast<std::size_t>(kind)];
}

double sum_of(std::span<const double> weights) {
    return std::accumulate(weights.begin(), weights.end(), 0.0);
}

}  // namespace

std::string_view name_of(window_kind kind) noexcept {
    return published_as(kind).name;
}

std::span<const double> cosine_coefficients(window_kind kind) noexcept {
    const auto& row = published_as(kind);
    return std::span{row.coefficients}.first(row.count);
}

std::vector<double> make_window(window_kind kind, std::size_t n) {
    const auto a = cosine_coefficients(kind);
    const double peak = sum_of(a);
    std::vector<double> weights(n);
    for (std::size_t i = 0; i < n; ++i) {
        // Angle from the middle, where every cosine is 1: that absorbs the alternating signs.
        const double angle =
            2 * std::numbers::pi * (static_cast<double>(i) / static_cast<double>(n) - 0.5);
        double w = 0;
        for (std::size_t k = 0; k < a.size(); ++k)
            w += a[k] * std::cos(static_cast<double>(k) * angle);
        weights[i] = w / peak;
    }
    return weights;
}

outcome<double> coherent_gain(std::span<const double> weights) {
    if (weights.empty()) return refuse(refusal::too_short);
    return sum_of(weights) / static_cast<double>(weights.size());
}

outcome<double> noise_bandwidth_bins(std::span<const double> weights) {
    if (weights.empty()) return refuse(refusal::too_short);
    const double sum = sum_of(weights);
    if (sum == 0) return refuse(refusal::silent);
    const double power = dot(weights, weights);
    return static_cast<double>(weights.size()) * power / (sum * sum);
}

outcome<decibels> scalloping_loss(std::span<const double> weights) {
    if (weights.empty()) return refuse(refusal::too_short);
    const double sum = sum_of(weights);
    if (sum == 0) return refuse(refusal::silent);
    std::complex<double> half_bin_off;
    for (std::size_t i = 0; i < weights.size(); ++i)
        half_bin_off += weights[i] * std::polar(1.0, std::numbers::pi * static_cast<double>(i) /
                                                         static_cast<double>(weights.size()));
    return -to_decibels(std::abs(half_bin_off) / std::abs(sum));
}

}  // namespace cvrig::analysis
