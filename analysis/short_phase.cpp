#include "analysis/short_phase.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace cvrig::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double least_periods = 2.0;
constexpr double window_seconds = 0.016;
constexpr double least_hops_in_window = 4.0;

}  // namespace

double short_window_length(hertz pitch, sample_rate rate) noexcept {
    const double periods = std::max(least_periods, std::round(window_seconds * pitch.value()));
    return periods * rate.value() / pitch.value();
}

std::vector<double> short_window(hertz pitch, sample_rate rate) {
    const double length = short_window_length(pitch, rate);
    std::vector<double> w(static_cast<std::size_t>(length));
    for (std::size_t i = 0; i < w.size(); ++i)
        w[i] = 0.5 - 0.5 * std::cos(two_pi * (static_cast<double>(i) + 0.5) / length);
    return w;
}

std::size_t hop_of(std::span<const double> window, hertz highest, sample_rate rate) {
    const double hop = std::min(static_cast<double>(window.size()) / least_hops_in_window,
                                0.5 * rate.value() / highest.value());
    return std::max<std::size_t>(1, static_cast<std::size_t>(hop));
}

phase_track follow_phase(std::span<const std::complex<double>> turned,
                         std::span<const double> cycles, std::span<const double> window,
                         std::size_t hop) {
    double sum = 0.0;
    for (const double w : window) sum += w;
    phase_track out;
    out.hops_in_window = static_cast<double>(window.size()) / static_cast<double>(hop);
    for (std::size_t begin = 0; begin + window.size() <= turned.size(); begin += hop) {
        std::complex<double> z{};
        for (std::size_t i = 0; i < window.size(); ++i) z += window[i] * turned[begin + i];
        double phase = std::arg(z) / two_pi;
        if (!out.phase.empty()) phase += std::round(out.phase.back() - phase);
        out.phase.push_back(phase);
        out.cycles.push_back(cycles[begin + window.size() / 2]);
        out.power += 2.0 * std::norm(z / sum);
    }
    if (!out.phase.empty()) out.power /= static_cast<double>(out.phase.size());
    return out;
}

}  // namespace cvrig::analysis
