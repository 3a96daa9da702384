#include "analysis/noise_floor.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::analysis {

namespace {

constexpr double smallest_volts = 1e-12;

// Power ratio without its scale: no root, cheap enough for every bin of a spectrum.
double a_power_unscaled(double f) noexcept {
    constexpr double f1 = 20.598997;
    constexpr double f2 = 107.652649;
    constexpr double f3 = 737.862231;
    constexpr double f4 = 12194.217148;
    const double s = f * f;
    const double ends = (s + f1 * f1) * (s + f4 * f4);
    return s * s * s * s / (ends * ends * (s + f2 * f2) * (s + f3 * f3));
}

double a_power(double f) noexcept {
    static const double at_1_khz = a_power_unscaled(1000.0);
    return a_power_unscaled(f) / at_1_khz;
}

/// Sums of powers and of their squares, of which one follows the scatter of the other.
struct power_sum {
    double power{0.0};
    double squares{0.0};

    void add(double p) noexcept {
        power += p;
        squares += p * p;
    }
    [[nodiscard]] noise_level level() const noexcept {
        constexpr double hann = (3.0 / 8.0) * (3.0 / 8.0) / (35.0 / 128.0);
        const double freedom = squares > 0.0 ? 4.0 * hann * power * power / squares : 0.0;
        return {volts{std::sqrt(power)}, freedom};
    }
};

}  // namespace

decibels a_weighting(hertz f) noexcept {
    return to_decibels(std::sqrt(a_power(f.value())));
}

dbu noise_level::level() const noexcept {
    return to_dbu(volts{std::max(rms.value(), smallest_volts)});
}

decibels noise_level::u() const noexcept {
    return decibels{10.0 / std::log(10.0) * std::sqrt(2.0 / std::max(degrees_of_freedom, 1.0))};
}

outcome<noise_reading> noise_in_band(const line_reader& spectrum, hertz lowest, hertz highest) {
    if (!(lowest.value() > 0.0) || !(highest > lowest)) return refuse(refusal::bad_argument);
    constexpr std::size_t fewest_bins = 8;
    const double width = spectrum.bin_width().value();
    const auto first = static_cast<std::size_t>(std::ceil(lowest.value() / width));
    const auto end = std::min(spectrum.bins(),
                              static_cast<std::size_t>(std::floor(highest.value() / width)) + 1);
    if (end < first + fewest_bins) return refuse(refusal::too_short);
    power_sum flat;
    power_sum weighted;
    for (std::size_t k = first; k < end; ++k) {
        const double p = spectrum.power_in_bin(k);
        flat.add(p);
        weighted.add(p * a_power(static_cast<double>(k) * width));
    }
    return noise_reading{flat.level(), weighted.level()};
}

}  // namespace cvrig::analysis
