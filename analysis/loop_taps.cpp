#include "analysis/loop_taps.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

namespace cvrig::analysis {

namespace {

constexpr std::size_t count = std::tuple_size_v<loop_taps>;
constexpr std::size_t lanes = 8;

// Eight running sums instead of one let the compiler use vector instructions without reordering.
float filtered(const float* s, const loop_taps& h) noexcept {
    std::array<float, lanes> sums{};
    for (std::size_t i = 0; i < count; i += lanes)
        for (std::size_t l = 0; l < lanes; ++l) sums[l] += h[i + l] * s[i + l];
    return ((sums[0] + sums[4]) + (sums[1] + sums[5])) +
           ((sums[2] + sums[6]) + (sums[3] + sums[7]));
}

constexpr double delay_of_tap(std::size_t j) noexcept {
    return static_cast<double>(loop_reach) - static_cast<double>(j);
}

double raised_cosine(double from_centre) noexcept {
    constexpr double half_width = 15.5;
    if (std::abs(from_centre) >= half_width) return 0.0;
    const double c = std::cos(std::numbers::pi / 2 * from_centre / half_width);
    return c * c;
}

struct phase_line {
    double slope_samples{0.0};  // what the delay lacks
    double per_noise{0.0};
};

using tap_weights = std::array<double, count>;

tap_weights weights_about(double delay) noexcept {
    tap_weights out{};
    for (std::size_t j = 0; j < count; ++j) out[j] = raised_cosine(delay_of_tap(j) - delay);
    return out;
}

constexpr std::size_t first_tone = 2;
constexpr std::size_t last_tone = 22;
constexpr double tones_a_rate = 64.0;

// Phases at a few frequencies, with the delay so far and the sign taken out.
phase_line phase_slope(const loop_taps& h, double delay, double sign, bool with_noise) {
    const auto weights = weights_about(delay);
    std::array<double, count> slope_for_tap{};
    double sum_xx = 0.0;
    double sum_xy = 0.0;
    for (auto m = first_tone; m <= last_tone; ++m) {
        const double w = 2 * std::numbers::pi * static_cast<double>(m) / tones_a_rate;
        std::complex<double> sum{};
        std::array<std::complex<double>, count> parts{};
        auto phasor = std::polar(1.0, -w * (delay_of_tap(0) - delay)) * sign;
        const auto step = std::polar(1.0, w);
        for (std::size_t j = 0; j < count; ++j, phasor *= step) {
            parts[j] = phasor * weights[j];
            sum += parts[j] * static_cast<double>(h[j]);
        }
        const double power = std::norm(sum);
        if (power == 0.0) continue;
        sum_xx += power * w * w;
        sum_xy -= power * w * std::arg(sum);
        // The imaginary part of part / sum, times the power.
        for (std::size_t j = 0; with_noise && j < count; ++j)
            slope_for_tap[j] -= w * (parts[j].imag() * sum.real() - parts[j].real() * sum.imag());
    }
    if (sum_xx == 0.0) return {};
    double variance = 0.0;
    for (const double v : slope_for_tap) variance += v * v;
    return {sum_xy / sum_xx, std::sqrt(variance) / sum_xx};
}

double windowed_sum(const loop_taps& h, const tap_weights& weights) noexcept {
    double sum = 0.0;
    for (std::size_t j = 0; j < count; ++j) sum += static_cast<double>(h[j]) * weights[j];
    return sum;
}

}  // namespace

loop_stretch within_sequence(const loop_signal& s, loop_stretch where) noexcept {
    const auto first = std::max({where.from, where.lag - loop_reach, std::ptrdiff_t{0}});
    const auto last =
        std::min({where.from + where.samples, s.sent.size() + where.lag + loop_reach, s.size()});
    return {first, std::max(last - first, std::ptrdiff_t{0}), where.lag};
}

std::vector<float> predicted(const loop_signal& s, const loop_stretch& where, const loop_taps& h) {
    std::vector<float> out(static_cast<std::size_t>(where.samples));
    if (out.empty()) return out;
    const float* sequence = s.sent_high.at(where.from - where.lag - loop_reach);
    for (std::size_t n = 0; n < out.size(); ++n) out[n] = filtered(sequence + n, h);
    return out;
}

loop_taps improved(const loop_signal& s, const loop_stretch& where, const loop_taps& h,
                   std::span<const float> prediction) {
    if (prediction.empty()) return h;
    const float* sequence = s.sent.at(where.from - where.lag - loop_reach);
    const float* heard = s.heard.high.data() + where.from;
    loop_taps sums{};
    for (std::size_t n = 0; n < prediction.size(); ++n) {
        const float rest = heard[n] - prediction[n];
        for (std::size_t j = 0; j < count; ++j) sums[j] += rest * sequence[n + j];
    }
    // The record lacks its mean over 65 samples; this undoes that for the 32 taps (the inverse of
    // the unit matrix less 1/65 everywhere).
    float total = 0.0F;
    for (const float v : sums) total += v;
    const auto scale = 1.0F / static_cast<float>(prediction.size());
    const float common = total / static_cast<float>(loop_mean_samples - count);
    auto out = h;
    for (std::size_t j = 0; j < count; ++j) out[j] += scale * (sums[j] + common);
    return out;
}

loop_path path_of(const loop_taps& h) {
    constexpr int rounds = 3;
    loop_path out;
    out.delay_samples = static_cast<double>(largest_tap(h));
    const double sign = windowed_sum(h, weights_about(out.delay_samples)) < 0.0 ? -1.0 : 1.0;
    for (int round = 1; round <= rounds; ++round) {
        const auto line = phase_slope(h, out.delay_samples, sign, round == rounds);
        out.delay_samples += std::clamp(line.slope_samples, -1.0, 1.0);
        out.delay_per_noise = line.per_noise;
    }
    const auto weights = weights_about(out.delay_samples);
    out.gain = windowed_sum(h, weights);
    double squares = 0.0;
    for (const double w : weights) squares += w * w;
    out.gain_per_noise = std::sqrt(squares);
    return out;
}

std::ptrdiff_t largest_tap(const loop_taps& h) noexcept {
    const auto largest =
        std::ranges::max_element(h, {}, [](float v) { return std::abs(v); }) - h.begin();
    return loop_reach - largest;
}

loop_taps shifted(const loop_taps& h, std::ptrdiff_t by) noexcept {
    loop_taps out{};
    for (std::ptrdiff_t j = 0; j < static_cast<std::ptrdiff_t>(count); ++j)
        if (j - by >= 0 && j - by < static_cast<std::ptrdiff_t>(count))
            out[static_cast<std::size_t>(j)] = h[static_cast<std::size_t>(j - by)];
    return out;
}

}  // namespace cvrig::analysis
