#include "rig/checks/stair.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "analysis/course.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

namespace {

using namespace literals;

// Attack of the envelope and settling of a converter; what lies before is not held against the
// pitch.
constexpr seconds settle_time = 10_ms;
constexpr seconds rest_between = 12_ms;
constexpr seconds step_edge = 1_ms;

// Where the beginning of a note is looked at: after the first milliseconds of the attack and the
// module's own delay.
constexpr seconds settling_begins = 3_ms;
constexpr seconds settling_time = 12_ms;
constexpr hertz settling_from{380.0};
constexpr double settling_share_of_highest = 0.62;
// The filter's envelope turns the phase of the first harmonic a little while the note begins.
constexpr double settling_model_cents = 0.3;

std::vector<volts> stair_up(const note_stair& stair) {
    std::vector<volts> out;
    const double span = (stair.to - stair.from).value();
    const double every = std::copysign(stair.every.value(), span);
    const auto steps = static_cast<int>(std::floor(span / every + 1e-6));
    for (int i = 0; i <= steps; ++i) out.push_back(stair.from + volts{every} * i);
    return out;
}

struct planned_note {
    volts at;
    bool upward;
};

std::vector<planned_note> notes_of(const note_stair& stair) {
    const auto up = stair_up(stair);
    std::vector<planned_note> out;
    using direction = note_stair::direction;
    if (stair.order != direction::down)
        for (const volts v : up) out.push_back({v, true});
    if (stair.order != direction::up)
        for (auto v = up.rbegin(); v != up.rend(); ++v) out.push_back({*v, false});
    return out;
}

// Long enough for the pitch estimator at this pitch, and for a note to be heard as one.
seconds note_length(hertz pitch, int attempt) {
    const double periods = 5.0 / pitch.value();
    const double steady = std::max(0.050, periods);
    return settle_time + step_edge + seconds{steady} * std::pow(1.6, attempt - 1);
}

const note_stair& stair_of(const check_request& request) {
    return *request.wanted.find<note_stair>("notes", request.choice);
}

// The beginning of a note against the rest of it: what a pitch that is read before its voltage has
// settled, or that creeps, shows. Only notes with several periods in so short a time can tell, the
// highest of the stair best.
hertz lowest_for_settling(const check_request& request, const std::vector<planned_note>& notes) {
    hertz highest{0.0};
    for (const auto& n : notes) highest = std::max(highest, request.module.pitch.pitch(n.at));
    return std::max(settling_from, highest * settling_share_of_highest);
}

void add_settling(measured_note& note, const heard_passage& heard, std::size_t index, hertz pitch) {
    const auto early = part_of_step(heard, 0, index, settling_begins, 1_ms);
    const auto count = static_cast<std::size_t>(settling_time.value() * heard.rate.value());
    if (early.size() < count) return;
    const std::vector<hertz> course(count, pitch);
    const auto offset = analysis::measure_offset(early.first(count), course, heard.rate,
                                                 noise_of(heard.silence[0]));
    if (!offset) return;
    note.settling_cents = offset->offset.value();
    note.u_settling_cents = std::hypot(offset->u_offset.value(), settling_model_cents);
}

}  // namespace

passage stair_passage(const check_request& request) {
    passage stair{.check = "tracking",
                  .steps = {},
                  .purpose = "a stair of struck notes",
                  .choice = request.choice};
    const auto notes = notes_of(stair_of(request));
    volts before = notes.front().at;
    for (const auto& note : notes) {
        stair.steps.push_back({.length = rest_between, .pitch = before});
        stair.steps.push_back(
            {.length = note_length(request.module.pitch.pitch(note.at), request.attempt),
             .pitch = note.at,
             .gate = true});
        before = note.at;
    }
    return stair;
}

std::string name_of(const measured_note& n) {
    return fmt::format("{} going {}", show(n.at.value(), dimension::volts),
                       n.upward ? "up" : "down");
}

measured_stair measure_stair(const check_request& request, const heard_passage& heard) {
    measured_stair out;
    const auto planned = notes_of(stair_of(request));
    const bool settling = request.wanted.find<limit>("settling", request.choice) != nullptr;
    const hertz settling_from_here = lowest_for_settling(request, planned);
    for (std::size_t i = 0; i < planned.size(); ++i) {
        const hertz expected = request.module.pitch.pitch(planned[i].at);
        const auto steady = part_of_step(heard, 0, 2 * i + 1, settle_time, step_edge);
        const auto tone = pitch_near(steady, heard.rate, expected);
        measured_note note{.at = planned[i].at,
                           .upward = planned[i].upward,
                           .time_s = 0,
                           .error_cents = 0,
                           .u_cents = 0,
                           .settling_cents = 0,
                           .u_settling_cents = -1};
        if (!tone) {
            if (!out.refused) {
                out.refused = tone.error();
                out.refused_at = name_of(note);
            }
            continue;
        }
        note.time_s = static_cast<double>(heard.step_starts[2 * i + 1]) / heard.rate.value();
        note.error_cents = interval(tone->pitch, expected).value();
        note.u_cents = tone->u_cents().value();
        if (settling && expected >= settling_from_here)
            add_settling(note, heard, 2 * i + 1, tone->pitch);
        out.notes.push_back(note);
    }
    return out;
}

}  // namespace cvrig
