#include "analysis/brightness.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "analysis/held_note.hpp"
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

}  // namespace

outcome<std::vector<envelope_frame>> track_brightness(std::span<const double> volts,
                                                      std::span<const double> silence,
                                                      sample_rate rate,
                                                      const envelope_request& request) {
    if (!all_finite(silence)) return refuse(refusal::not_finite);
    if (silence.size() < 16) return refuse(refusal::too_short);
    const auto note = follow_held_note(volts, rate, request);
    if (!note) return refuse(note.error());
    const auto response = line_response(note->plan, note->pitch, rate);
    const double least =
        standing_out * deviation(silence) * line_noise(note->plan, note->pitch, rate);
    std::vector<envelope_frame> out;
    for (std::size_t i = 0; i < note->frames.size(); ++i) {
        auto frame = read_frame(note->frames.frame(i), response, least);
        if (!frame) return refuse(refusal::silent);
        frame->at = seconds{note->at_s[i]};
        frame->pitch = note->pitch;
        out.push_back(*frame);
    }
    return out;
}

}  // namespace cvrig::analysis
