#include "rig/checks/cutoff_stair.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <optional>
#include <span>
#include <utility>

#include "analysis/fit.hpp"
#include "rig/checks/filter_closing.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

namespace {

using namespace literals;

constexpr std::size_t waiting = 1;
constexpr std::size_t first_level = 2;
constexpr seconds hop = 36_ms;
// A module's blocks, the smoothing of its jacks and its filter have settled in the rest of a step.
constexpr double read_share = 0.74;
constexpr double closed_below = 4.0;  // times the pitch

step holding(const check_request& request, seconds length, volts cutoff, bool gate) {
    step s{.length = length, .pitch = stair_note(request), .gate = gate};
    s.others["cutoff"] = cutoff;
    if (request.module.find_jack("decay") != nullptr)
        s.others["decay"] = range_of(request, "decay").low;
    return s;
}

// What the envelope still adds at a moment, and how sure that is: of a tenth of it, since no envelope
// need follow its law to the end, and of what the fit leaves open.
struct left_open {
    octaves amount{0.0}, u_law{0.0}, u_rest{0.0};
};

left_open still_open(const analysis::closing_reading& closing, seconds at) {
    constexpr double unlike_its_law = 0.1;
    const octaves amount = closing.still_open(at);
    return {amount, unlike_its_law * amount, closing.u_still_open(at)};
}

// An envelope that was not seen to close may still do so by a little: if its time constant is no longer
// than the wait, it has at most the wait's length at its slope left.
std::optional<left_open> unseen(std::span<const heard_cutoff> resting, seconds wait) {
    constexpr std::size_t fewest = 4;
    if (resting.size() < fewest) return std::nullopt;
    std::vector<double> at_s, cutoff;
    for (const auto& one : resting) {
        at_s.push_back(one.at.value());
        cutoff.push_back(one.in_octaves().value());
    }
    const auto line = analysis::fit_line(at_s, cutoff);
    if (!line) return std::nullopt;
    const double falls_per_s = std::hypot(std::max(0.0, -line->slope), line->u_slope);
    return left_open{.u_rest = octaves{falls_per_s * wait.value() / std::sqrt(3.0)}};
}

stair_step step_of(volts at, const heard_cutoff& one, const left_open& left) {
    // A filter that still closes is heard a little off the middle of its window (type B, from simulated
    // units: scripts/coverage).
    constexpr double off_middle_share = 0.006;
    const octaves moves = off_middle_share * left.amount;
    const double by_noise = one.filter.beyond ? 0.0 : one.filter.u_noise / one.filter.u_cutoff;
    stair_step out{.at = at,
                   .cutoff = one.in_octaves() - left.amount,
                   .u_cutoff = {},
                   .u_law = left.u_law,
                   .u_rest = left.u_rest,
                   .u_moves = moves,
                   .u_noise = by_noise * one.u_octaves(),
                   .beyond = one.filter.beyond};
    out.u_cutoff =
        octaves{std::hypot(one.u_octaves().value(), out.u_envelope().value(), moves.value())};
    return out;
}

stair_step unread_step(volts at) {
    return {.at = at,
            .cutoff = {},
            .u_cutoff = {},
            .u_law = {},
            .u_rest = {},
            .u_moves = {},
            .u_noise = {},
            .unread = true};
}

bool is_in_tune(hertz pitch, hertz expected) {
    constexpr double most_octaves = 0.04;
    return std::abs(std::log2(pitch / expected)) < most_octaves;
}

// The held note by the end of the stair. A few periods may be taken for one or four, or read some per
// cent off, which no filter explains: if they are not what is expected, more of the stair is heard, and a
// module that is out of tune by all of it.
analysis::outcome<filter_note> hear_held(const check_request& request, const heard_passage& heard,
                                         seconds window) {
    const hertz expected = request.module.pitch.pitch(stair_note(request));
    const seconds end = end_of_step(heard, heard.step_starts.size() - 1);
    auto note = hear_note(heard, end - window, end, expected);
    for (const seconds from : {end - 3.0 * window, start_of_step(heard, first_level)}) {
        if (note && is_in_tune(note->pitch, expected)) return note;
        auto longer = hear_note(heard, from, end, expected);
        if (longer || !note) note = std::move(longer);
    }
    return note;
}

// A filter that still moves fast lies about the level.
std::vector<heard_cutoff> resting_half(const std::vector<heard_cutoff>& course) {
    return {course.begin() + static_cast<std::ptrdiff_t>(course.size() / 2), course.end()};
}

using heard_level = analysis::outcome<heard_cutoff>;

// The filter at each level, and what is left of the note far under its cutoff. Of a filter that hardly
// lets the fundamental through, only that says how far it is closed. The first level lasts twice as long:
// two periods more tell such a filter far better.
std::vector<heard_level> hear_levels(const heard_passage& heard, filter_note& note,
                                     std::vector<heard_cutoff> open, seconds window) {
    const std::size_t count = heard.step_starts.size();
    const seconds two_periods{2.0 / note.pitch.value()};
    const auto hear = [&](std::size_t i) {
        const bool is_longer = i == first_level && count > first_level + 1;
        return hear_cutoff(heard, note, i, is_longer ? window + two_periods : window);
    };
    std::vector<heard_level> out;
    for (std::size_t i = first_level; i < count; ++i) {
        out.push_back(hear(i));
        if (out.back()) open.push_back(*out.back());
    }
    note.gain = gain_of(open, note.pitch);
    for (std::size_t i = 0; i < out.size(); ++i)
        if (!out[i] || out[i]->filter.cutoff < closed_below * note.pitch)
            out[i] = hear(first_level + i);
    return out;
}

// A level at which the filter moved to and fro may be left out, one in ten, or one; nothing else.
std::optional<analysis::refusal> unusable(std::span<const heard_level> levels) {
    const std::size_t most_unread = std::max<std::size_t>(1, levels.size() / 10);
    std::size_t unread = 0;
    for (const auto& one : levels)
        if (!one && (one.error() != analysis::refusal::no_fit || ++unread > most_unread))
            return one.error();
    return std::nullopt;
}

}  // namespace

volts stair_note(const check_request& request) {
    return volts{parameter(request, "note", request.module.pitch.at.value())};
}

jack_range range_of(const check_request& request, const char* jack) {
    const auto* found = request.module.find_jack(jack);
    if (found == nullptr)
        throw user_error{
            fmt::format("check '{}' moves jack '{}', which the module does not have; "
                        "add it under 'drive', or leave the check out.",
                        request.wanted.name, jack)};
    return {found->low, found->high};
}

volts u_of_jack(const check_request& request, const char* jack) {
    for (const auto& output : request.desk.outputs)
        if (output.jack == jack) return output.u;
    return volts{0.0};
}

std::vector<volts> levels_over(jack_range range, std::size_t count) {
    std::vector<volts> out;
    for (std::size_t i = 0; i < count; ++i)
        out.push_back(range.low + (range.high - range.low) *
                                      (static_cast<double>(i) / static_cast<double>(count - 1)));
    return out;
}

passage cutoff_stair(const check_request& request, seconds wait, volts waiting_at,
                     const std::vector<volts>& levels, seconds held) {
    passage p{.check = request.wanted.name,
              .steps = {holding(request, 20_ms, waiting_at, false),
                        holding(request, wait, waiting_at, true)},
              .purpose = "a note whose cutoff is moved in steps",
              .choice = request.choice};
    for (const volts level : levels) p.steps.push_back(holding(request, held, level, true));
    // The first is far from where the filter waited, and low, where it is slow to settle.
    if (!levels.empty()) p.steps[first_level].length = 2.0 * held;
    return p;
}

analysis::outcome<heard_stair> hear_stair(const check_request& request,
                                          const heard_passage& heard) {
    const std::size_t last = heard.step_starts.size() - 1;
    const seconds window = read_share * (end_of_step(heard, last) - start_of_step(heard, last));
    auto note = hear_held(request, heard, window);
    if (!note) return analysis::refuse(note.error());
    heard_stair out{
        .note = *note, .closing = hear_closing(heard, waiting, note->pitch), .steps = {}};
    const auto rest = resting_half(hear_course(heard, *note, waiting, hop));
    const seconds waited = start_of_step(heard, first_level) - start_of_step(heard, waiting);
    const auto not_seen = unseen(rest, waited);
    if (!out.closing && !not_seen) return analysis::refuse(out.closing.error());
    const auto levels = hear_levels(heard, *note, rest, window);
    if (const auto why = unusable(levels)) return analysis::refuse(*why);
    for (std::size_t i = 0; i < levels.size(); ++i) {
        const auto at = heard.asked.steps[first_level + i].others.at("cutoff");
        if (!levels[i]) {
            out.steps.push_back(unread_step(at));
            continue;
        }
        const seconds since = levels[i]->at - start_of_step(heard, waiting);
        const auto left = out.closing ? still_open(out.closing->closing, since) : *not_seen;
        out.steps.push_back(step_of(at, *levels[i], left));
    }
    return out;
}

}  // namespace cvrig
