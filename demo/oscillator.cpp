#include "demo/oscillator.hpp"

#include <cmath>
#include <numbers>
#include <vector>

namespace ferrule {
namespace {

constexpr std::size_t taps = oscillator::step_taps;
constexpr std::size_t fractions = 256;

/// Modified Bessel function of the first kind, order 0, for the Kaiser window.
double bessel_i0(double x) {
    double sum = 1.0;
    double term = 1.0;
    for (int k = 1; k < 60; ++k) {
        term *= (x / (2.0 * k)) * (x / (2.0 * k));
        sum += term;
    }
    return sum;
}

/// Low-pass at 0.4 of the sample rate: flat to 0.32, about 80 dB down from 0.48.
double smoothed_impulse(double t_samples) {
    constexpr double half = static_cast<double>(taps) / 2.0;
    constexpr double kaiser_beta = 7.9;
    constexpr double band = 0.8;
    const double x = t_samples / half;
    if (std::abs(x) >= 1.0) return 0.0;
    const double window = bessel_i0(kaiser_beta * std::sqrt(1.0 - x * x)) / bessel_i0(kaiser_beta);
    const double angle = std::numbers::pi * band * t_samples;
    return (t_samples == 0.0 ? band : band * std::sin(angle) / angle) * window;
}

/// table[i * taps + tap]: smoothed step less hard step, for a step i / fractions samples ago.
std::vector<double> make_table() {
    std::vector<double> integral(taps * fractions + 1, 0.0);
    constexpr auto centre = static_cast<double>(oscillator::latency_samples);
    const double width = 1.0 / static_cast<double>(fractions);
    for (std::size_t i = 1; i < integral.size(); ++i) {
        const double middle = (static_cast<double>(i) - 0.5) * width - centre;
        integral[i] = integral[i - 1] + smoothed_impulse(middle) * width;
    }
    std::vector<double> table(taps * (fractions + 1), 0.0);
    for (std::size_t i = 0; i <= fractions; ++i) {
        for (std::size_t tap = 0; tap < taps; ++tap) {
            const double smooth = integral[tap * fractions + i] / integral.back();
            const bool after = tap >= taps / 2;
            table[i * taps + tap] = smooth - (after ? 1.0 : 0.0);
        }
    }
    return table;
}

const std::vector<double>& step_table() {
    static const std::vector<double> table = make_table();
    return table;
}

double mixed(double phase, const wave_mix& mix) {
    return mix.saw * (1.0 - 2.0 * phase) + (phase < mix.high_share ? mix.square : -mix.square);
}

}  // namespace

void oscillator::add_step(double height, double ago) noexcept {
    const double position = ago * static_cast<double>(fractions);
    const auto low = static_cast<std::size_t>(position);
    const double part = position - static_cast<double>(low);
    const double* first = step_table().data() + low * taps;
    const double* second = first + taps;
    for (std::size_t tap = 0; tap < taps; ++tap) {
        corrections_[(at_ + tap) % taps] +=
            height * (first[tap] + part * (second[tap] - first[tap]));
    }
}

double oscillator::next(double cycles, const wave_mix& mix) noexcept {
    const double before = phase_;
    phase_ += cycles;
    if (mix.smooth_steps && before < mix.high_share && phase_ >= mix.high_share) {
        add_step(-2.0 * mix.square, (phase_ - mix.high_share) / cycles);
    }
    if (phase_ >= 1.0) {
        phase_ -= 1.0;
        if (mix.smooth_steps) add_step(2.0 * (mix.saw + mix.square), phase_ / cycles);
    }
    const double naive = delayed_[at_ % latency_samples];
    delayed_[at_ % latency_samples] = mixed(phase_, mix);
    const double sample = naive + corrections_[at_];
    corrections_[at_] = 0.0;
    at_ = (at_ + 1) % taps;
    return sample;
}

}  // namespace ferrule
