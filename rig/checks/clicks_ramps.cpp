#include <algorithm>
#include <cmath>

#include "analysis/control_course.hpp"
#include "analysis/samples.hpp"
#include "rig/checks/clicks_readings.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

using namespace literals;

namespace {

// What the module's own lateness and its first reaction may take.
constexpr seconds ramp_lead = 30_ms;
constexpr seconds ramp_end = 8_ms;
constexpr seconds knot = 5_ms;

struct ramp_place {
    seconds from, to;
};

ramp_place place_of(const heard_passage& heard) {
    const seconds start{static_cast<double>(heard.step_starts[ramp_step]) / heard.rate.value()};
    const seconds end{static_cast<double>(heard.end) / heard.rate.value()};
    return {start + ramp_lead, end - ramp_end};
}

// The pitch that the jack's voltage stands for, from the beginning of the ramp to its end.
analysis::pitch_line expected_pitch(const check_request& request, const heard_passage& heard) {
    const auto& ramp = heard.asked.steps[ramp_step];
    const auto moved = ramp.from.find("pitch");
    const volts from = moved == ramp.from.end() ? ramp.pitch : moved->second;
    const seconds start{static_cast<double>(heard.step_starts[ramp_step]) / heard.rate.value()};
    analysis::pitch_line out{start, knot, {}};
    for (seconds t{0.0}; t <= ramp.length + knot; t += knot) {
        const volts at = from + (ramp.pitch - from) * std::min(1.0, t / ramp.length);
        out.pitch_hz.push_back(request.module.pitch.pitch(at).value());
    }
    return out;
}

analysis::outcome<ramp_steps> read_course(const heard_passage& heard,
                                          const analysis::control_course& all,
                                          const std::vector<double>& course, seconds flat_window) {
    const auto found = analysis::find_zipper(
        course, all.spacing,
        {.lowest = hertz{15.0},
         .highest = std::min(hertz{0.9 / all.window.value()}, hertz{0.45 / all.spacing.value()}),
         .window = all.window,
         .flat_window = flat_window});
    if (!found) return analysis::refuse(found.error());
    ramp_steps out{.steps = *found,
                   .plateaus = {},
                   .doubt = {},
                   .is_no_stair = false,
                   .time_s = {},
                   .course_cents = course};
    const double first = place_of(heard).from.value();
    for (std::size_t i = 0; i < course.size(); ++i)
        out.time_s.push_back(first + static_cast<double>(i) * all.spacing.value());
    return out;
}

analysis::outcome<analysis::control_course> follow(const check_request& request,
                                                   const heard_passage& heard) {
    if (!sounds(heard, 0, part_of_step(heard, 0, ramp_step, 20_ms, 2_ms)))
        return analysis::refuse(analysis::refusal::silent);
    const auto place = place_of(heard);
    return analysis::follow_control(heard.volts[0], heard.rate, expected_pitch(request, heard),
                                    place.from, place.to, noise_of(heard.silence[0]));
}

// A step in the window of two of the tone's periods moves each harmonic by a little of the others, with the
// phase the tone has there. So steps have lines at all sums of their rate and the tone's harmonics: the line
// of the steps is theirs alone where none of these falls near it, and surely theirs where none comes near it
// in size (type B, from simulated voices; tests/rig/clicks_steps_test.cpp has some of the others).
constexpr int harmonics_that_matter = 6;
constexpr double alone_bins = 8.0, most_rival_share = 0.3;

bool is_alone(const analysis::zipper_reading& steps, hertz tone, seconds length) {
    if (steps.rival_share > most_rival_share) return false;
    for (int k = 1; k <= harmonics_that_matter; ++k) {
        const double turns = k * tone.value() / steps.rate.value();
        const double apart_hz = std::abs(turns - std::round(turns)) * steps.rate.value();
        if (apart_hz * length.value() < alone_bins) return false;
    }
    return true;
}

// The pitch that sounds, which the course tells against the expected one.
hertz pitch_of(const check_request& request, const heard_passage& heard,
               const analysis::control_course& all) {
    const hertz expected = request.module.pitch.pitch(heard.asked.steps[ramp_step].pitch);
    return hertz{expected.value() * std::exp2(analysis::mean(all.pitch_cents) / 1200.0)};
}

}  // namespace

analysis::outcome<ramp_steps> read_pitch_ramp(const check_request& request,
                                              const heard_passage& heard) {
    const auto all = follow(request, heard);
    if (!all) return analysis::refuse(all.error());
    return read_course(heard, *all, all->pitch_cents, all->spacing);
}

analysis::outcome<ramp_steps> read_cutoff_ramp(const check_request& request,
                                               const heard_passage& heard) {
    const auto all = follow(request, heard);
    if (!all) return analysis::refuse(all.error());
    auto out = read_course(heard, *all, all->brightness_cents, seconds{0.0});
    if (!out || !out->steps.stands_out) return out;
    const auto between =
        analysis::steps_of_plateaus(all->brightness_cents, all->spacing, all->window, out->steps);
    const seconds length{all->spacing.value() * static_cast<double>(all->brightness_cents.size())};
    if (between)
        out->plateaus = *between;
    else if (between.error() != analysis::refusal::too_short) {
        out->is_no_stair = true;
        out->doubt =
            "What stands out of the course is no stair: between its steps it does not come to "
            "rest.";
    } else if (!is_alone(out->steps, pitch_of(request, heard, *all), length))
        out->doubt =
            "The steps come within few of the tone's periods and beat with it, so neither their "
            "height nor their rate can be told.";
    return out;
}

}  // namespace cvrig
