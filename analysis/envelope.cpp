#include "analysis/envelope.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/cycles.hpp"

namespace cvrig::analysis {
namespace {

bool all_finite(std::span<const double> x) noexcept {
    return std::ranges::all_of(x, [](double v) { return std::isfinite(v); });
}

bool sensible(const envelope_request& r, sample_rate rate) noexcept {
    return r.pitch.value() >= 20.0 && r.pitch.value() <= rate.value() / 12.0 &&
           r.window.value() > 0.0 && r.hop.value() >= 1.0 / rate.value();
}

envelope_frame read_frame(std::span<const std::complex<double>> lines,
                          std::span<const double> response) {
    double first = 0.0;
    double others = 0.0;
    for (std::size_t k = 0; k < lines.size(); ++k) {
        const double power = std::norm(lines[k]) / (response[k] * response[k]);
        (k == 0 ? first : others) += power;
    }
    constexpr double least = 1e-30;
    return {seconds{}, hertz{}, volts{std::sqrt((first + others) / 2.0)}, volts{std::sqrt(first)},
            decibels{10.0 * std::log10(std::max(others, least) / std::max(first, least))}};
}

}  // namespace

outcome<std::vector<envelope_frame>> track_envelope(std::span<const double> volts, sample_rate rate,
                                                    const envelope_request& request) {
    if (!sensible(request, rate)) return refuse(refusal::bad_argument);
    if (!all_finite(volts)) return refuse(refusal::not_finite);
    const seconds length{static_cast<double>(volts.size()) / rate.value()};
    const auto pitch = held_pitch(volts, rate, request.pitch, seconds{0.0}, length);
    if (!pitch) return refuse(pitch.error());
    const auto plan =
        plan_cycles({*pitch, *pitch, request.window, 2.0, 0.42 * hertz{rate.value()}}, rate);
    const seconds half = half_window(plan, *pitch);
    if (length < 6.0 * half) return refuse(refusal::too_short);

    std::vector<double> at_s;
    for (double t = half.value(); t <= (length - half).value(); t += request.hop.value()) {
        at_s.push_back(t);
    }
    const auto frames = harmonics_at(volts, rate, constant_pitch(*pitch), plan, at_s);
    const auto response = line_response(plan, *pitch, rate);
    std::vector<envelope_frame> out(frames.size());
    for (std::size_t i = 0; i < out.size(); ++i) {
        out[i] = read_frame(frames.frame(i), response);
        out[i].at = seconds{at_s[i]};
        out[i].pitch = *pitch;
    }
    return out;
}

}  // namespace cvrig::analysis
