#include "analysis/held_note.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

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

outcome<held_note> follow_held_note(std::span<const double> volts, sample_rate rate,
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
    held_note out{*pitch, plan, {}, {}};
    for (double t = half.value(); t <= (length - half).value(); t += request.hop.value())
        out.at_s.push_back(t);
    out.frames = harmonics_at(volts, rate, constant_pitch(*pitch), plan, out.at_s);
    return out;
}

std::vector<envelope_frame> envelope_of(const held_note& note, sample_rate rate) {
    const auto response = line_response(note.plan, note.pitch, rate);
    std::vector<envelope_frame> out(note.frames.size());
    for (std::size_t i = 0; i < out.size(); ++i) {
        out[i] = read_frame(note.frames.frame(i), response);
        out[i].at = seconds{note.at_s[i]};
        out[i].pitch = note.pitch;
    }
    return out;
}

}  // namespace cvrig::analysis
