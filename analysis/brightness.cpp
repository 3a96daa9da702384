#include "analysis/brightness.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "analysis/cycles.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr double standing_out = 5.0;

std::optional<envelope_frame> read_frame(std::span<const std::complex<double>> lines,
                                         std::span<const double> response, double least) {
    double sum = 0.0;
    double moment = 0.0;
    double power = 0.0;
    for (std::size_t k = 0; k < lines.size(); ++k) {
        const double peak = std::abs(lines[k]) / response[k];
        if (peak < least) continue;
        sum += peak;
        moment += static_cast<double>(k + 1) * peak;
        power += 0.5 * peak * peak;
    }
    if (!(sum > 0.0)) return std::nullopt;
    return envelope_frame{seconds{}, hertz{}, volts{std::sqrt(power)},
                          volts{std::abs(lines[0]) / response[0]}, to_decibels(moment / sum)};
}

std::optional<refusal> unusable(std::span<const double> volts, std::span<const double> silence,
                                sample_rate rate, const envelope_request& r) {
    const bool sane = r.pitch.value() >= 20.0 && r.pitch.value() <= rate.value() / 12.0 &&
                      r.window.value() > 0.0 && r.hop.value() >= 1.0 / rate.value();
    if (!sane) return refusal::bad_argument;
    if (!all_finite(volts) || !all_finite(silence)) return refusal::not_finite;
    if (silence.size() < 16) return refusal::too_short;
    return std::nullopt;
}

}  // namespace

outcome<std::vector<envelope_frame>> track_brightness(std::span<const double> volts,
                                                      std::span<const double> silence,
                                                      sample_rate rate,
                                                      const envelope_request& request) {
    if (const auto why = unusable(volts, silence, rate, request)) return refuse(*why);
    const seconds length{static_cast<double>(volts.size()) / rate.value()};
    const auto pitch = held_pitch(volts, rate, request.pitch, seconds{0.0}, length);
    if (!pitch) return refuse(pitch.error());
    const auto plan =
        plan_cycles({*pitch, *pitch, request.window, 2.0, 0.42 * hertz{rate.value()}}, rate);
    const seconds half = half_window(plan, *pitch);
    if (length < 6.0 * half) return refuse(refusal::too_short);

    std::vector<double> at_s;
    for (double t = half.value(); t <= (length - half).value(); t += request.hop.value())
        at_s.push_back(t);
    const auto frames = harmonics_at(volts, rate, constant_pitch(*pitch), plan, at_s);
    const auto response = line_response(plan, *pitch, rate);
    const double least = standing_out * deviation(silence) * line_noise(plan, *pitch, rate);
    std::vector<envelope_frame> out;
    for (std::size_t i = 0; i < frames.size(); ++i) {
        auto frame = read_frame(frames.frame(i), response, least);
        if (!frame) return refuse(refusal::silent);
        frame->at = seconds{at_s[i]};
        frame->pitch = *pitch;
        out.push_back(*frame);
    }
    return out;
}

}  // namespace cvrig::analysis
