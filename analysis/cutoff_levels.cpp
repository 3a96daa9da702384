#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "analysis/cutoff.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr double least_periods = 2.0;
constexpr double hann_noise_bandwidth = 1.5;

/// A Hann window over whole periods, whose ends need not fall on samples.
struct placed_window {
    std::size_t first{0};
    std::vector<double> weights;
    double sum{0.0};
};

placed_window window_over(std::size_t samples, double period_samples) {
    const auto count = static_cast<double>(samples);
    const double length = std::floor(count / period_samples) * period_samples;
    const double centre = 0.5 * (count - 1.0);
    const auto first = static_cast<std::size_t>(std::ceil(std::max(0.0, centre - 0.5 * length)));
    placed_window out{.first = first, .weights = {}, .sum = 0.0};
    for (std::size_t i = first; i < samples; ++i) {
        const double from_centre = static_cast<double>(i) - centre;
        if (from_centre > 0.5 * length) break;
        out.weights.push_back(0.5 + 0.5 * std::cos(2.0 * std::numbers::pi * from_centre / length));
        out.sum += out.weights.back();
    }
    return out;
}

/// So many harmonics turn side by side, since each waits for its own turn before.
constexpr std::size_t abreast = 4;
using group = std::array<double, abreast>;

group lines_at(std::span<const double> weighted, const group& radians_per_sample) {
    group turn_re{}, turn_im{}, re{}, im{}, sum_re{}, sum_im{}, out{};
    for (std::size_t k = 0; k < abreast; ++k) {
        turn_re[k] = std::cos(radians_per_sample[k]);
        turn_im[k] = std::sin(radians_per_sample[k]);
        re[k] = 1.0;
    }
    for (const double v : weighted) {
        for (std::size_t k = 0; k < abreast; ++k) {
            sum_re[k] += v * re[k];
            sum_im[k] -= v * im[k];
            const double next = re[k] * turn_re[k] - im[k] * turn_im[k];
            im[k] = re[k] * turn_im[k] + im[k] * turn_re[k];
            re[k] = next;
        }
    }
    for (std::size_t k = 0; k < abreast; ++k) out[k] = std::hypot(sum_re[k], sum_im[k]);
    return out;
}

// A note that decays, or is a little off, leaks into its neighbours as the third power of their
// distance: 0.1 % for two periods of a note that falls by 1 % meanwhile, less for more.
volts leaked_into(std::size_t n, std::span<const harmonic_level> all, double periods) {
    const double share = 1e-3 * std::pow(2.0 / periods, 2.0);
    double sum = 0.0;
    for (const auto& other : all) {
        const double apart = static_cast<double>(other.number) - static_cast<double>(n);
        if (apart != 0.0) sum += other.peak.value() / std::abs(apart * apart * apart);
    }
    return volts{share * sum};
}

}  // namespace

std::vector<std::size_t> harmonics_up_to(hertz highest, hertz pitch) {
    constexpr std::size_t all_below = 6, finer = 5;
    std::vector<std::size_t> out;
    if (!(pitch > hertz{0.0})) return out;
    const double most = std::min(highest / pitch, 1e6);
    for (std::size_t n = 1; static_cast<double>(n) <= most; n += n < all_below ? 1 : n / finer)
        out.push_back(n);
    return out;
}

outcome<std::vector<harmonic_level>> windowed_levels(std::span<const double> samples_volts,
                                                     sample_rate rate, hertz pitch,
                                                     std::span<const std::size_t> numbers,
                                                     volts noise) {
    const auto in_range = [&](std::size_t n) {
        return n > 0 && pitch * static_cast<double>(n) < rate.nyquist();
    };
    if (!(rate.value() > 0.0) || !(pitch > hertz{0.0}) || !(noise >= volts{0.0}) ||
        numbers.empty() || !std::ranges::all_of(numbers, in_range))
        return refuse(refusal::bad_argument);
    if (!all_finite(samples_volts)) return refuse(refusal::not_finite);
    const double period = rate.value() / pitch.value();
    if (static_cast<double>(samples_volts.size()) < least_periods * period)
        return refuse(refusal::too_short);
    const auto window = window_over(samples_volts.size(), period);
    std::vector<double> weighted(window.weights.size());
    for (std::size_t i = 0; i < weighted.size(); ++i)
        weighted[i] = window.weights[i] * samples_volts[window.first + i];
    if (std::ranges::all_of(weighted, [](double v) { return v == 0.0; }))
        return refuse(refusal::silent);
    const volts u{noise.value() *
                  std::sqrt(2.0 * hann_noise_bandwidth / static_cast<double>(weighted.size()))};
    std::vector<harmonic_level> out;
    for (std::size_t first = 0; first < numbers.size(); first += abreast) {
        const auto some = numbers.subspan(first, std::min(abreast, numbers.size() - first));
        group turns{};
        for (std::size_t k = 0; k < some.size(); ++k)
            turns[k] = 2.0 * std::numbers::pi * static_cast<double>(some[k]) / period;
        const auto sums = lines_at(weighted, turns);
        for (std::size_t k = 0; k < some.size(); ++k)
            out.push_back({some[k], volts{2.0 / window.sum * sums[k]}, u});
    }
    const double periods = std::round(static_cast<double>(weighted.size()) / period);
    const std::vector<harmonic_level> all = out;
    for (auto& level : out)
        level.u_peak = volts{
            std::hypot(level.u_peak.value(), leaked_into(level.number, all, periods).value())};
    return out;
}

}  // namespace cvrig::analysis
