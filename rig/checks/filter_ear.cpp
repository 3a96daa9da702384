#include "rig/checks/filter_ear.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/fit.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

namespace {

using namespace literals;

constexpr seconds clear = 1_ms;
constexpr hertz highest_heard = 18_kHz;

std::size_t sample_at(const heard_passage& heard, seconds t) {
    return static_cast<std::size_t>(std::llround(std::max(0.0, t.value()) * heard.rate.value()));
}

std::optional<analysis::known_gain> gain_at(const filter_note& note, seconds at) {
    if (!note.gain) return std::nullopt;
    return analysis::known_gain{std::exp(note.gain->nepers + note.gain->nepers_per_s * at.value()),
                                note.gain->u_nepers, note.gain->u_noise_nepers};
}

}  // namespace

octaves heard_cutoff::in_octaves() const {
    return octaves{std::log2(filter.cutoff.value())};
}

octaves heard_cutoff::u_octaves() const {
    return octaves{filter.u_cutoff / filter.cutoff / std::log(2.0)};
}

seconds start_of_step(const heard_passage& heard, std::size_t index) {
    return static_cast<double>(heard.step_starts[index]) * heard.rate.period();
}

seconds end_of_step(const heard_passage& heard, std::size_t index) {
    const std::size_t end =
        index + 1 < heard.step_starts.size() ? heard.step_starts[index + 1] : heard.end;
    return static_cast<double>(end) * heard.rate.period();
}

analysis::outcome<filter_note> hear_note(const heard_passage& heard, seconds from, seconds to,
                                         hertz expected) {
    const auto record = part(heard.volts[0], sample_at(heard, from), sample_at(heard, to));
    if (!sounds(heard, 0, record)) return analysis::refuse(analysis::refusal::silent);
    const auto tone = pitch_near(record, heard.rate, expected);
    if (!tone) return analysis::refuse(tone.error());
    return filter_note{.pitch = tone->pitch, .noise = noise_of(heard.silence[0])};
}

analysis::outcome<heard_cutoff> hear_cutoff(const heard_passage& heard, const filter_note& note,
                                            seconds from, seconds to) {
    const auto record = part(heard.volts[0], sample_at(heard, from), sample_at(heard, to));
    const auto numbers = analysis::harmonics_up_to(
        std::min(highest_heard, 0.42 * hertz{heard.rate.value()}), note.pitch);
    const auto levels =
        analysis::windowed_levels(record, heard.rate, note.pitch, numbers, note.noise);
    if (!levels) return analysis::refuse(levels.error());
    std::vector<double> sawtooth;
    for (const auto n : numbers) sawtooth.push_back(1.0 / static_cast<double>(n));
    const seconds middle = 0.5 * (from + to);
    const auto filter = analysis::measure_cutoff(
        *levels, sawtooth,
        {.pitch = note.pitch, .relative_u_source = 0.002, .gain = gain_at(note, middle)});
    if (!filter) return analysis::refuse(filter.error());
    return heard_cutoff{middle, *filter};
}

analysis::outcome<heard_cutoff> hear_cutoff(const heard_passage& heard, const filter_note& note,
                                            std::size_t index, seconds window) {
    const seconds end = end_of_step(heard, index) - clear;
    return hear_cutoff(heard, note, end - window, end);
}

std::vector<heard_cutoff> hear_course(const heard_passage& heard, const filter_note& note,
                                      std::size_t index, seconds hop) {
    constexpr seconds attack = 20_ms;
    const seconds window{2.02 / note.pitch.value()};
    std::vector<heard_cutoff> out;
    seconds from = start_of_step(heard, index) + attack;
    for (; from + window <= end_of_step(heard, index) - clear; from += hop)
        if (const auto one = hear_cutoff(heard, note, from, from + window))
            if (!one->filter.beyond) out.push_back(*one);
    return out;
}

std::optional<filter_note::gain_line> gain_of(std::span<const heard_cutoff> open, hertz pitch) {
    constexpr double well_open = 4.0;  // over the pitch
    std::vector<double> t, nepers;
    for (const auto& one : open) {
        if (one.filter.beyond || one.filter.cutoff < well_open * pitch) continue;
        t.push_back(one.at.value());
        nepers.push_back(std::log(one.filter.gain));
    }
    const auto line = analysis::fit_line(t, nepers);
    if (!line) return std::nullopt;
    // A line through n moments is better known than each; twice that, since it need not be quite straight.
    const double scatter = line->residual_sd / std::sqrt(static_cast<double>(t.size()));
    return filter_note::gain_line{.nepers = line->intercept,
                                  .nepers_per_s = line->slope,
                                  .u_nepers = std::max(0.001, 2.0 * scatter),
                                  .u_noise_nepers = scatter};
}

}  // namespace cvrig
