#include <algorithm>
#include <cmath>

#include "analysis/control_course.hpp"
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
    ramp_steps out{.steps = *found, .plateaus = {}, .time_s = {}, .course_cents = course};
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
    if (between) out->plateaus = *between;
    return out;
}

}  // namespace cvrig
