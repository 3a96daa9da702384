#include "analysis/control_course.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr std::size_t harmonics_read = 12;

// Resampling leaves some of each line only, `response`; noise adds its power to each.
double rms_harmonic(std::span<const std::complex<double>> lines, std::span<const double> response,
                    double noise_power) {
    double power = 0.0;
    double moment = 0.0;
    for (std::size_t k = 0; k < std::min(lines.size(), harmonics_read); ++k) {
        const double number = static_cast<double>(k + 1);
        const double line = (std::norm(lines[k]) - noise_power) / (response[k] * response[k]);
        power += line;
        moment += number * number * line;
    }
    return power > 0.0 && moment > 0.0 ? std::sqrt(moment / power) : 0.0;
}

}  // namespace

outcome<control_course> follow_control(std::span<const double> samples_volts, sample_rate rate,
                                       const pitch_line& expected, seconds from, seconds to,
                                       volts noise, seconds spacing) {
    if (!(rate.value() > 0.0) || !(spacing.value() > 0.0) || expected.pitch_hz.empty())
        return refuse(refusal::bad_argument);
    const auto [low, high] = std::ranges::minmax_element(expected.pitch_hz);
    if (!(*low > 0.0) || *high * static_cast<double>(harmonics_read) > 0.45 * rate.value())
        return refuse(refusal::bad_argument);
    if (!all_finite(samples_volts)) return refuse(refusal::not_finite);

    const auto plan = plan_cycles({.lowest = hertz{*low},
                                   .highest = hertz{*high},
                                   .window = seconds{2.0 / *low},
                                   .density = 1.0,
                                   .top = hertz{*high * (harmonics_read + 0.5)}},
                                  rate);
    std::vector<double> at_s;
    for (double t = from.value(); t <= to.value(); t += spacing.value()) at_s.push_back(t);
    if (at_s.size() < 64) return refuse(refusal::too_short);
    const auto frames = harmonics_at(samples_volts, rate, expected, plan, at_s);

    control_course out{.pitch_cents = {},
                       .brightness_cents = {},
                       .spacing = spacing,
                       .window = seconds{4.0 / (*low + *high)}};
    for (std::size_t i = 0; i + 1 < frames.size(); ++i) {
        const auto turn = frames.frame(i + 1)[0] * std::conj(frames.frame(i)[0]);
        const auto response = line_response(plan, pitch_at(expected, seconds{at_s[i]}), rate);
        const double noise_volts =
            noise.value() * line_noise(plan, pitch_at(expected, seconds{at_s[i]}), rate);
        const double brightness =
            rms_harmonic(frames.frame(i), response, noise_volts * noise_volts);
        if (!(std::abs(turn) > 0.0) || !(brightness > 0.0)) return refuse(refusal::silent);
        const double pitch_hz = pitch_at(expected, seconds{0.5 * (at_s[i] + at_s[i + 1])}).value();
        const double ahead_hz = std::arg(turn) / (2.0 * std::numbers::pi * spacing.value());
        out.pitch_cents.push_back(1200.0 * std::log2(1.0 + ahead_hz / pitch_hz));
        out.brightness_cents.push_back(1200.0 * std::log2(brightness));
    }
    return out;
}

}  // namespace cvrig::analysis
