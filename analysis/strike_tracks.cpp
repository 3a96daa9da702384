#include "analysis/strike_tracks.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::analysis {
namespace {

/// Upper edge, as a harmonic number, of each band.
constexpr std::array<std::size_t, strike_bands> band_top{1, 2, 3, 4, 6, 9, 13, 19, 28, 40, 60, 90};

/// Lines this far below the fundamental (-70 dB) are leakage, images and aliases as much as sound:
/// a square's even harmonics must not count as brightness.
constexpr double own_floor = 1e-7;

struct band_powers {
    band_values sound{}, noise{};
};

band_powers sum_bands(std::span<const std::complex<double>> lines, std::span<const double> noise) {
    band_powers out;
    std::size_t band = 0;
    for (std::size_t k = 1; k <= std::min<std::size_t>(lines.size(), band_top.back()); ++k) {
        while (k > band_top[band]) ++band;
        out.sound[band] += std::norm(lines[k - 1]);
        out.noise[band] += noise[k - 1] + own_floor * std::norm(lines[0]);
    }
    return out;
}

void add_frame(strike_track& track, std::span<const std::complex<double>> lines,
               std::span<const double> noise) {
    const band_powers p = sum_bands(lines, noise);
    const double first = p.sound[0] + 2.0 * p.noise[0];
    band_values value{};
    band_values variance{};
    double others = 0.0;
    for (std::size_t g = 0; g < strike_bands; ++g) {
        const double power = p.sound[g] + 2.0 * p.noise[g];
        value[g] = power > 0.0 ? std::log(power / first) : 0.0;
        variance[g] = power > 0.0 ? 4.0 * p.noise[g] / power + 4.0 * p.noise[0] / first : 1e6;
        if (g > 0) others += p.sound[g];
    }
    track.log_level.push_back(0.5 * std::log(p.sound[0] + 0.01 * p.noise[0]));
    track.second.push_back(0.5 * value[1]);
    track.third.push_back(0.5 * value[2]);
    track.bands.push_back(value);
    track.variance.push_back(variance);
    track.brightness_db.push_back(10.0 * std::log10((others + 1e-20) / (p.sound[0] + 1e-20)));
}

std::vector<double> even_times(seconds from, seconds to, seconds hop) {
    std::vector<double> out;
    const auto n =
        static_cast<std::size_t>(std::max(0.0, std::floor((to - from) / hop + 1e-6)) + 1.0);
    for (std::size_t i = 0; i < n; ++i)
        out.push_back((from + static_cast<double>(i) * hop).value());
    return out;
}

}  // namespace

std::vector<double> noise_lines(const strike_case& c, const cycle_plan& plan) {
    // A floor 140 dB below 1 V keeps every logarithm finite for a voice without noise.
    std::vector<double> out(plan.harmonics, 1e-14);
    const seconds half = half_window(plan, c.from);
    const bool own = static_cast<double>(c.silence.size()) / c.rate.value() > 4.0 * half.value();
    const auto quiet = static_cast<std::size_t>(c.struck_at.value() * c.rate.value());
    const auto record = own ? c.silence : c.step.first(std::min(quiet, c.step.size()));
    const seconds length{static_cast<double>(record.size()) / c.rate.value()};
    if (length < 2.2 * half) return out;
    const auto at_s = even_times(half, length - half, half);
    const auto frames = harmonics_at(record, c.rate, constant_pitch(c.from), plan, at_s);
    for (std::size_t i = 0; i < frames.size(); ++i) {
        for (std::size_t k = 0; k < out.size(); ++k) {
            out[k] += std::norm(frames.frame(i)[k]) / static_cast<double>(frames.size());
        }
    }
    return out;
}

strike_track track_note(std::span<const double> volts, const strike_case& c,
                        const pitch_line& pitch, const cycle_plan& plan,
                        std::span<const double> noise, seconds first_age, seconds last_age) {
    const auto at_s = even_times(c.struck_at + first_age, c.struck_at + last_age, strike_hop);
    const auto frames = harmonics_at(volts, c.rate, pitch, plan, at_s);
    strike_track track;
    track.first_age = first_age;
    for (std::size_t i = 0; i < frames.size(); ++i) add_frame(track, frames.frame(i), noise);
    return track;
}

}  // namespace cvrig::analysis
