#include "analysis/amplitude.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "analysis/held_note.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr double least_over_noise = 20.0;
constexpr double least_over_first = 0.02;
constexpr std::size_t highest_helper = 5;

bool stands_out(const harmonic_frames& frames, std::size_t line, double least_v) {
    for (std::size_t i = 0; i < frames.size(); ++i) {
        const double peak = std::abs(frames.frame(i)[line]);
        if (peak < std::max(least_v, least_over_first * std::abs(frames.frame(i)[0]))) return false;
    }
    return true;
}

/// The lowest line above the first that stands out in every frame.
std::optional<std::size_t> find_helper(const harmonic_frames& frames, double least_v) {
    for (std::size_t line = 1; line < std::min(frames.harmonics, highest_helper); ++line)
        if (stands_out(frames, line, least_v)) return line;
    return std::nullopt;
}

double freed(std::span<const std::complex<double>> lines, std::size_t helper) {
    const double n = static_cast<double>(helper + 1);
    const double nepers =
        (n * n * std::log(std::abs(lines[0])) - std::log(std::abs(lines[helper]))) / (n * n - 1.0);
    return std::exp(nepers);
}

}  // namespace

outcome<std::vector<envelope_frame>> track_amplitude(std::span<const double> volts,
                                                     std::span<const double> silence,
                                                     sample_rate rate,
                                                     const envelope_request& request) {
    if (!all_finite(silence)) return refuse(refusal::not_finite);
    if (silence.size() < 16) return refuse(refusal::too_short);
    const auto note = follow_held_note(volts, rate, request);
    if (!note) return refuse(note.error());
    auto out = envelope_of(*note, rate);
    const double least_v =
        least_over_noise * deviation(silence) * line_noise(note->plan, note->pitch, rate);
    const auto helper = find_helper(note->frames, least_v);
    if (!helper) return out;
    for (std::size_t i = 0; i < out.size(); ++i)
        out[i].fundamental = cvrig::volts{freed(note->frames.frame(i), *helper)};
    return out;
}

}  // namespace cvrig::analysis
