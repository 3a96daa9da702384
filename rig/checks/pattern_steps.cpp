#include "rig/checks/pattern_steps.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "rig/checks/listening.hpp"
#include "rig/checks/pattern_random.hpp"

namespace cvrig {

namespace {

using kind = pattern_step::kind;

constexpr std::size_t most_steps_in_take = 256;

std::size_t steps_of(const check_request& request) {
    return std::max<std::size_t>(
        1, static_cast<std::size_t>(std::llround(parameter(request, "steps", 256.0))));
}

seconds step_length(const check_request& request) {
    return seconds{parameter(request, "step length", 0.11) * std::pow(1.25, request.attempt - 1)};
}

// Parts differ in length by one step at most: a last one of a few steps would tell nothing.
std::size_t first_of(std::size_t part, std::size_t parts, std::size_t steps) {
    return part * steps / parts;
}

struct shares {
    double rest, slide, tie, accent;
};

shares shares_of(const check_request& request) {
    const auto share = [&](const char* key, double percent) {
        return parameter(request, key, percent) / 100.0;
    };
    return {share("rest share", 10.0), share("slide share", 15.0), share("tie share", 15.0),
            share("accent share", 25.0)};
}

// Semitones of the range from which notes are drawn.
struct note_range {
    double lowest_volts, semitone_volts;
    std::size_t count;

    [[nodiscard]] volts at(std::size_t number) const {
        return volts{lowest_volts + semitone_volts * static_cast<double>(number)};
    }
};

note_range range_of(const check_request& request) {
    const auto& law = request.module.pitch;
    const double octave = law.per_octave.value();
    const double lowest = parameter(request, "lowest", law.at.value());
    const double highest = parameter(request, "highest", law.at.value() + 3.0 * octave);
    const double semitones = std::floor(12.0 * (highest - lowest) / octave + 1e-6);
    return {lowest, octave / 12.0, static_cast<std::size_t>(std::max(1.0, semitones)) + 1};
}

kind draw_kind(pattern_random& random, const shares& s, bool note_before) {
    const double drawn = random.share();
    if (drawn < s.rest) return kind::rest;
    if (!note_before) return kind::struck;
    if (drawn < s.rest + s.slide) return kind::slid;
    return drawn < s.rest + s.slide + s.tie ? kind::tied : kind::struck;
}

// A tied step to the same pitch would be no step at all.
std::size_t draw_note(pattern_random& random, kind what, std::size_t before, std::size_t count) {
    if (what == kind::struck) return random.below(count);
    const std::size_t other = random.below(count - 1);
    return other < before ? other : other + 1;
}

bool is_tied(const pattern_step& s) {
    return s.what == kind::tied || s.what == kind::slid;
}

step to_play(const check_request& request, const pattern_step& s, bool gate, seconds length) {
    step out{.length = length,
             .pitch = s.pitch,
             .gate = gate,
             .accent = s.accent,
             .slide = s.what == kind::slid};
    if (const auto* cutoff = request.wanted.find<measure>("cutoff", request.choice))
        out.others["cutoff"] = volts{cutoff->in_base_unit};
    return out;
}

}  // namespace

std::size_t pattern_parts(const check_request& request) {
    return (steps_of(request) + most_steps_in_take - 1) / most_steps_in_take;
}

pattern_part pattern_of(const check_request& request) {
    const std::size_t steps = steps_of(request);
    const std::size_t parts = pattern_parts(request);
    const std::size_t first = first_of(request.part, parts, steps);
    const std::size_t end = first_of(request.part + 1, parts, steps);
    const auto seed = static_cast<std::uint64_t>(std::llround(parameter(request, "seed", 1.0)));
    // Each part begins anew, so that any one can be played without those before it.
    pattern_random random{seed * 1000003U + request.part};
    const auto wanted = shares_of(request);
    const auto notes = range_of(request);
    pattern_part out{first + 1, step_length(request) * static_cast<double>(first), {}};
    std::size_t note = 0;
    bool note_before = false;
    std::size_t played = 0;
    for (std::size_t i = first; i < end; ++i) {
        pattern_step s;
        s.before = notes.at(note);
        const bool is_first = i == first;
        s.what = is_first ? kind::struck : draw_kind(random, wanted, note_before);
        if (s.what != kind::rest) {
            note = draw_note(random, s.what, note, notes.count);
            s.accent = random.share() < wanted.accent && !is_first;
        }
        s.pitch = notes.at(note);
        note_before = s.what != kind::rest;
        if (is_tied(s)) out.steps.back().held = true;
        out.steps.push_back(s);
    }
    for (auto& s : out.steps) {
        s.played_step = played;
        played += s.held || s.what == kind::rest ? 1 : 2;
    }
    return out;
}

std::vector<passage> pattern_passages(const check_request& request) {
    const auto part = pattern_of(request);
    const seconds length = step_length(request);
    const seconds sounding =
        length * std::clamp(parameter(request, "gate length", 75.0) / 100.0, 0.05, 0.95);
    passage out{.check = "pattern",
                .steps = {},
                .purpose = fmt::format("steps {} to {} of a random bass line", part.first,
                                       part.first + part.steps.size() - 1),
                .choice = request.choice};
    for (const auto& s : part.steps) {
        if (s.held || s.what == kind::rest) {
            out.steps.push_back(to_play(request, s, s.held, length));
            continue;
        }
        out.steps.push_back(to_play(request, s, true, sounding));
        out.steps.push_back(to_play(request, s, false, length - sounding));
    }
    return {std::move(out)};
}

seconds pattern_slide_time(const check_request& request) {
    return seconds{parameter(request, "slide time", 0.022)};
}

std::string name_of_step(const pattern_part& part, std::size_t index) {
    const auto& s = part.steps[index];
    const auto number = part.first + index;
    const auto in_volts = [](volts v) { return show(v.value(), dimension::volts, 5); };
    switch (s.what) {
        case kind::rest:
            return fmt::format("step {}, a rest", number);
        case kind::struck:
            return fmt::format("step {}, {} {}", number, s.accent ? "accented" : "struck",
                               in_volts(s.pitch));
        case kind::tied:
        case kind::slid:
            break;
    }
    return fmt::format("step {}, {} {} to {}", number, s.what == kind::slid ? "slid" : "tied",
                       in_volts(s.before), in_volts(s.pitch));
}

}  // namespace cvrig
