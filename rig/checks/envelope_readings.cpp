#include "rig/checks/envelope_readings.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/amplitude.hpp"
#include "rig/checks/envelope_passages.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

using namespace literals;
using analysis::envelope_track;
using analysis::outcome;
using analysis::refuse;

namespace {

// The attack is over, and whatever the filter's opening does to the fundamental.
constexpr seconds decay_from = 100_ms;
constexpr seconds decay_early = 20_ms;

seconds time_of(const heard_passage& heard, std::size_t sample) {
    return seconds{static_cast<double>(sample) / heard.rate.value()};
}

seconds begin_of(const heard_passage& heard, std::size_t index) {
    return time_of(heard, heard.step_starts[index]);
}

seconds end_of(const heard_passage& heard, std::size_t index) {
    return index + 1 < heard.step_starts.size() ? begin_of(heard, index + 1)
                                                : time_of(heard, heard.end);
}

volts level_near(std::span<const analysis::envelope_frame> frames, seconds at) {
    return std::ranges::min_element(frames, {},
                                    [&](const auto& f) { return std::abs((f.at - at).value()); })
        ->fundamental;
}

double db(volts level) {
    return 20.0 * std::log10(std::max(level.value(), 1e-9));
}

// A decay that is no exponential has another time constant in its second half.
seconds bend_of(const held_course& held, seconds until) {
    const seconds middle = 0.5 * (decay_from + until);
    const auto which = envelope_track::fundamental;
    const auto first = analysis::measure_decay(held.frames, decay_from, middle, which);
    const auto second = analysis::measure_decay(held.frames, middle, until, which);
    if (!first || !second) return seconds{0.0};
    const double apart = first->time_constant.value() - second->time_constant.value();
    return seconds{std::abs(apart) / std::sqrt(12.0)};
}

// What the closing filter does to the fundamental is taken off; some of it may be left.
seconds filter_share(const held_course& held, std::span<const analysis::envelope_frame> plain,
                     seconds until) {
    // Over simulated voices (scripts/coverage): a share of what was taken off, and of the time itself.
    constexpr double left = 0.13, least_share = 0.0003;
    const auto of_fundamental =
        analysis::measure_decay(plain, decay_from, until, envelope_track::fundamental);
    if (!held.decay || !of_fundamental) return seconds{0.0};
    const double moved = (of_fundamental->time_constant - held.decay->time_constant).value();
    return seconds{std::hypot(left * moved, least_share * held.decay->time_constant.value())};
}

// The last whole cycle of a note stands for it.
outcome<std::vector<analysis::gain_point>> course_after(const heard_passage& heard,
                                                        seconds gate_falls, seconds until,
                                                        hertz pitch, seconds window) {
    const seconds clear = 0.5_ms;
    const seconds cycle{1.0 / pitch.value()};
    return analysis::track_gain(heard.volts[0], heard.silence[0], heard.rate,
                                {.pitch = pitch,
                                 .cycle_at = gate_falls - clear - cycle,
                                 .from = gate_falls - 3_ms,
                                 .to = until,
                                 .window = window});
}

}  // namespace

outcome<held_course> read_held(const check_request& request, const heard_passage& heard) {
    const auto note = part_of_step(heard, 0, envelope_steps::long_note, 0_ms, 1_ms);
    const analysis::envelope_request tracked{.pitch = envelope_pitch(request), .hop = 10_ms};
    const auto plain = analysis::track_envelope(note, heard.rate, tracked);
    if (!plain) return refuse(plain.error());
    auto frames = analysis::track_amplitude(note, heard.silence[0], heard.rate, tracked);
    if (!frames) return refuse(frames.error());
    // Noise has a fundamental of a sort, too.
    const volts start = level_near(*frames, 50_ms);
    if (!(start > 10.0 * noise_of(heard.silence[0]))) return refuse(analysis::refusal::silent);
    const seconds until = end_of(heard, envelope_steps::long_note) -
                          begin_of(heard, envelope_steps::long_note) - decay_early;
    held_course out{.pitch = frames->front().pitch,
                    .frames = std::move(*frames),
                    .decay = refuse(analysis::refusal::too_short),
                    .u_bend = {},
                    .u_filter = {},
                    .sustained = {}};
    out.decay = analysis::measure_decay(out.frames, decay_from, until, envelope_track::fundamental);
    out.u_bend = bend_of(out, until);
    out.u_filter = filter_share(out, *plain, until);
    out.sustained = decibels{db(level_near(out.frames, 0.65_s)) - db(start)};
    return out;
}

outcome<let_go> read_release(const check_request& request, const heard_passage& heard,
                             std::size_t note, std::string name, hertz pitch) {
    const seconds falls = end_of(heard, note);
    auto course = course_after(heard, falls, falls + envelope_rest(request), pitch, 0.5_ms);
    if (!course) return refuse(course.error());
    const auto release = analysis::measure_release(*course, falls);
    const auto tail = analysis::measure_tail(*course, falls);
    return let_go{.name = std::move(name),
                  .gate_held = falls - begin_of(heard, note),
                  .gate_falls = falls,
                  .course = std::move(*course),
                  .release = release,
                  .tail = tail};
}

outcome<second_strike> read_second_strike(const heard_passage& heard, std::size_t rest,
                                          hertz pitch) {
    const seconds falls = begin_of(heard, rest);
    const seconds rises = end_of(heard, rest);
    auto course = course_after(heard, falls, rises + 15_ms, pitch, 0.125_ms);
    if (!course) return refuse(course.error());
    const auto reading = analysis::measure_restrike(*course, falls, rises);
    if (!reading) return refuse(reading.error());
    return second_strike{falls, rises, std::move(*course), *reading};
}

outcome<seconds> read_attack(const heard_passage& heard, std::size_t note, hertz pitch) {
    const auto lead = static_cast<std::size_t>(0.010 * heard.rate.value());
    const std::size_t begin = heard.step_starts[note] - lead;
    const auto end = static_cast<std::size_t>(end_of(heard, note).value() * heard.rate.value());
    const auto attack =
        analysis::measure_attack(part(heard.volts[0], begin, end), heard.rate, pitch, 10_ms);
    if (!attack) return refuse(attack.error());
    return attack->rise_10_90;
}

}  // namespace cvrig
