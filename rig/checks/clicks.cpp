#include "rig/checks/clicks.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "analysis/samples.hpp"
#include "rig/checks/clicks_readings.hpp"
#include "rig/checks/listening.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

constexpr double usual_count_from_db = -60.0;
// The largest of some thousand values of noise lies four deviations out, within half of one.
constexpr double noise_peak = 4.0, u_noise_peak = 0.5;

// Clicks are counted from the level on that the file still allows, unless it says otherwise.
double count_from_db(const check_request& request) {
    const auto* allowed = request.wanted.find<limit>("largest click", request.choice);
    const double usual =
        allowed != nullptr && allowed->upper ? *allowed->upper : usual_count_from_db;
    return parameter(request, "count from", usual);
}

// Nothing was found: what there is lies below what would have been, anywhere between nothing and
// that. Of such heights 95 in 100 lie within 32 dB below it.
reading unheard(double hidden_db) {
    constexpr double half_db = 16.0;
    return make_reading(hidden_db - half_db, dimension::decibels,
                        {{"noise that would hide a click", 0.5 * half_db}}, "anywhere");
}

// What was not heard lies below a bound. That can prove a demand, but never a fault.
void add_bound(findings& out, const check_request& request, const std::string& key,
               const reading& bound) {
    const auto* allowed = request.wanted.find<limit>(key, request.choice);
    if (allowed == nullptr) return;
    if (judge(bound, *allowed, request.module.coverage_factor) == verdict::pass)
        return out.add(key, bound);
    out.doubt(key,
              fmt::format("Nothing was found, but up to {} could hide.",
                          show(bound.value + 2.0 * bound.standard_uncertainty, bound.unit, 3)));
}

void judge_largest(findings& out, const check_request& request, const clicks_heard& heard) {
    std::vector<reading> all;
    for (const auto& c : heard.clicks) {
        all.push_back(
            make_reading(c.size_db, dimension::decibels, {{"noise and sampling", c.u_db}}, c.at));
        all.back().where = c.where_s;
    }
    const auto* allowed = request.wanted.find<limit>("largest click", request.choice);
    const bool fine =
        allowed != nullptr && std::ranges::all_of(all, [&](const reading& r) {
            return judge(r, *allowed, request.module.coverage_factor) == verdict::pass;
        });
    const auto bound = unheard(heard.hidden_db);
    // Small clicks prove nothing of larger ones that noise would hide.
    const bool proven = allowed != nullptr &&
                        judge(bound, *allowed, request.module.coverage_factor) == verdict::pass;
    if (all.empty() || (fine && !proven))
        add_bound(out, request, "largest click", bound);
    else
        out.add_worst("largest click", all);
}

// A click whose size lies about the level from which they count may be one or none.
void judge_count(findings& out, const check_request& request, const clicks_heard& heard) {
    const double from = count_from_db(request);
    const double k = request.module.coverage_factor;
    std::size_t sure = 0;
    std::size_t doubtful = 0;
    const told_click* first = nullptr;
    for (const auto& c : heard.clicks) {
        // The same click on both outputs counts once.
        if (c.jack > 0 && std::ranges::any_of(heard.clicks, [&](const told_click& other) {
                return other.jack < c.jack && other.passage == c.passage &&
                       other.size_db - k * other.u_db >= from &&
                       std::abs(other.where_s - c.where_s) < 2e-4;
            }))
            continue;
        if (c.size_db + k * c.u_db < from) continue;
        const bool is_sure = c.size_db - k * c.u_db >= from;
        ++(is_sure ? sure : doubtful);
        if (first == nullptr && is_sure) first = &c;
    }
    if (sure == 0 && heard.hidden_db > from)
        return out.doubt("clicks", fmt::format("A click up to {} could hide in the noise.",
                                               show(heard.hidden_db, dimension::decibels)));
    const double open = 0.5 * static_cast<double>(doubtful);
    auto r = make_reading(static_cast<double>(sure) + open, dimension::count,
                          {{"clicks of about the size from which they count", 0.6 * open}},
                          first == nullptr ? "" : "first in " + first->at);
    if (first != nullptr) r.where = first->where_s;
    out.add("clicks", r);
}

// The number of losses that count: those as long as the longest that the file allows, or these.
constexpr seconds usual_count_dropouts_from{5e-4};

seconds count_dropouts_from(const check_request& request) {
    const auto* allowed = request.wanted.find<limit>("longest dropout", request.choice);
    return allowed != nullptr && allowed->upper ? seconds{*allowed->upper}
                                                : usual_count_dropouts_from;
}

void judge_number(findings& out, const check_request& request, const dropouts_heard& found,
                  const std::vector<reading>& all) {
    const auto count = make_reading(static_cast<double>(all.size()), dimension::count, {},
                                    all.empty() ? "" : "first in " + all.front().at);
    const auto* allowed = out.limit_of("dropouts");
    const bool is_deaf = found.hidden > count_dropouts_from(request);
    if (is_deaf && allowed != nullptr && out.judged(count, *allowed) != verdict::fail)
        return out.doubt("dropouts",
                         fmt::format("A loss of up to {} could have stayed unheard.",
                                     show(found.hidden.value(), dimension::seconds, 2)));
    out.add("dropouts", count);
}

void judge_dropouts(findings& out, const check_request& request, const clicks_plan& plan,
                    std::span<const heard_passage> heard) {
    if (!out.wanted("dropouts") && !out.wanted("longest dropout")) return;
    const auto found = read_dropouts(request, plan, heard);
    if (!found) {
        for (const char* key : {"dropouts", "longest dropout"})
            out.doubt(key, found.error(), "the held note");
        return;
    }
    std::vector<reading> all;
    for (const auto& d : found->dropouts) {
        all.push_back(make_reading(d.length.value(), dimension::seconds,
                                   {{"sampling and phase", d.u_length.value()}}, d.at));
        all.back().where = d.where_s;
    }
    judge_number(out, request, *found, all);
    const double half = 0.5 * found->hidden.value();
    const auto bound = make_reading(half, dimension::seconds,
                                    {{"what would have stayed unheard", 0.5 * half}}, "anywhere");
    const auto* allowed = out.limit_of("longest dropout");
    const auto within = [&](const reading& r) {
        return allowed != nullptr && out.judged(r, *allowed) == verdict::pass;
    };
    // Short ones prove nothing of longer ones that would stay unheard.
    if (all.empty() || (std::ranges::all_of(all, within) && !within(bound)))
        add_bound(out, request, "longest dropout", bound);
    else
        out.add_worst("longest dropout", all);
}

// What a course adds to the uncertainty of its steps: a share of their height, and of the rate in
// parts of one over the length of the course.
struct course_faults {
    double step_share{0.0}, rate_bins{0.0};
};
// A step of the filter that falls into a window of two periods moves each harmonic by a little of the
// others, as the phase has it; steps that fall evenly into the periods so pull the line (type B, from
// simulated voices: scripts/coverage).
constexpr course_faults of_the_brightness{0.007, 0.075};

// What a step still moves where the course is taken to be clear of it (type B: the error that
// steps_of_plateaus states).
constexpr double u_plateau_share = 0.001;

reading height_of(const ramp_steps& ramp, const course_faults& faults, const std::string& at) {
    const auto& found = ramp.steps;
    if (found.stands_out && ramp.plateaus)
        return make_reading(ramp.plateaus->step, dimension::cents,
                            {{"scatter between the steps", ramp.plateaus->u_step},
                             {"how far the steps are rounded", ramp.plateaus->u_settling},
                             {"when the steps come", ramp.plateaus->u_timing},
                             {"a pattern between the steps", ramp.plateaus->u_pattern},
                             {"what a step leaves behind", u_plateau_share * ramp.plateaus->step}},
                            at);
    return make_reading(
        found.step, dimension::cents,
        {{"scatter of the course", found.u_step},
         {"where steps fall in the tone's periods", faults.step_share * found.step}},
        at);
}

// What is no stair is not told by its line: steps that had a smaller one could be as high again, and more
// (find_zipper: a sine reads as steps pi times its amplitude). So little that twice as much would be
// allowed, too, harms nobody.
std::optional<reading> harmless(const findings& out, const ramp_steps& ramp,
                                const std::string& key) {
    const auto* allowed = out.limit_of(key);
    if (allowed == nullptr || !ramp.is_no_stair) return std::nullopt;
    const auto most = make_reading(
        ramp.steps.step, dimension::cents,
        {{"scatter of the course", ramp.steps.u_step}, {"what is no stair", ramp.steps.step}},
        fmt::format("{} a second, no stair", show(ramp.steps.rate.value(), dimension::ratio, 3)));
    if (out.judged(most, *allowed) != verdict::pass) return std::nullopt;
    return most;
}

// The height of the steps, or how high they could be at most; and how often they come, or that they
// would have to come more often than is heard.
void judge_steps(findings& out, const check_request& request, const std::string& steps,
                 const std::string& rate, const ramp_steps& ramp,
                 const course_faults& faults = {}) {
    const auto& found = ramp.steps;
    if (found.stands_out && !ramp.doubt.empty()) {
        if (const auto most = harmless(out, ramp, steps))
            out.add(steps, *most);
        else
            out.doubt(steps, ramp.doubt);
        return out.doubt(rate, ramp.doubt);
    }
    const double length_s = ramp.time_s.back() - ramp.time_s.front();
    const std::string at =
        found.stands_out ? fmt::format("{} a second", show(found.rate.value(), dimension::ratio, 3))
                         : "no steps stand out";
    const auto height = height_of(ramp, faults, at);
    if (found.stands_out)
        out.add(steps, height);
    else
        add_bound(out, request, steps, height);
    if (!found.stands_out)
        return out.doubt(rate, "No steps stand out of the noise, so they have no rate.");
    out.add(rate, make_reading(
                      found.rate.value(), dimension::hertz,
                      {{"scatter of the course", found.u_rate.value()},
                       {"where steps fall in the tone's periods", faults.rate_bins / length_s}}));
}

plot ramp_plot(const char* title, const char* y_label, const ramp_steps& ramp) {
    series course{
        .name = "course less its mean", .drawn = series::look::line, .x = {}, .y = {}, .u = {}};
    const double mean = analysis::mean(ramp.course_cents);
    for (std::size_t i = 0; i < ramp.time_s.size(); ++i) {
        course.x.push_back(1e3 * ramp.time_s[i]);
        course.y.push_back(ramp.course_cents[i] - mean);
    }
    return {.title = title,
            .x_label = "time / ms",
            .y_label = y_label,
            .curves = {std::move(course)},
            .bands = {},
            .note = "A smooth line is good; stairs are heard as zipper noise."};
}

void judge_ramps(findings& out, check_result& result, const check_request& request,
                 const clicks_plan& plan, std::span<const heard_passage> heard) {
    if (plan.pitch_ramp > 0) {
        if (const auto ramp = read_pitch_ramp(request, heard[plan.pitch_ramp])) {
            judge_steps(out, request, "pitch steps", "pitch step rate", *ramp);
            result.plots.push_back(
                ramp_plot("A slow way of the pitch", "pitch against the voltage / cent", *ramp));
        } else {
            for (const char* key : {"pitch steps", "pitch step rate"})
                out.doubt(key, ramp.error(), "the slow way of the pitch");
        }
    }
    if (plan.cutoff_ramp > 0) {
        if (const auto ramp = read_cutoff_ramp(request, heard[plan.cutoff_ramp])) {
            judge_steps(out, request, "cutoff steps", "cutoff step rate", *ramp, of_the_brightness);
            result.plots.push_back(
                ramp_plot("A slow way of the cutoff", "brightness / cent", *ramp));
        } else {
            for (const char* key : {"cutoff steps", "cutoff step rate"})
                out.doubt(key, ramp.error(), "the slow way of the cutoff");
        }
    } else {
        for (const char* key : {"cutoff steps", "cutoff step rate"})
            out.doubt(key, "The file names no cutoff jack under drive.");
    }
}

// A record of a program begins where the module is switched on; a live module has been on for long,
// and what it did then is past.
void judge_pop(findings& out, const check_request& request, const heard_passage& heard) {
    if (request.desk.audio)
        return out.pass_over("pop at boot",
                             "The module has long been on: a live bench hears nothing of it.");
    std::vector<reading> all;
    for (std::size_t jack = 0; jack < heard.silence.size(); ++jack) {
        const std::span<const double> silence = heard.silence[jack];
        if (silence.size() < 300)
            return out.doubt("pop at boot", analysis::refusal::too_short, "the opening silence");
        const auto settled = silence.last(silence.size() / 3);
        const double dc = analysis::mean(settled);
        const double noise = noise_of(settled).value();
        double most = 0.0;
        std::size_t at = 0;
        for (std::size_t i = 0; i < silence.size(); ++i) {
            if (std::abs(silence[i] - dc) <= most) continue;
            most = std::abs(silence[i] - dc);
            at = i;
        }
        const double gain = gain_uncertainty(request, jack).value() * std::log(10.0) / 20.0;
        // Noise adds to a pop; alone it peaks at some four deviations.
        const bool is_pop = most > (noise_peak + 4.0 * u_noise_peak) * noise;
        all.push_back(make_reading(
            most, dimension::volts,
            {{"bench gain", gain * most}, {"noise", is_pop ? noise : u_noise_peak * noise}},
            fmt::format("{}, {:.1f} ms after the start", request.module.listen[jack],
                        1e3 * static_cast<double>(at) / heard.rate.value())));
    }
    out.add_worst("pop at boot", all);
}

plot click_plot(const clicks_heard& heard, double from_db) {
    series found{.name = "clicks", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    for (const auto& c : heard.clicks) {
        found.x.push_back(1e3 * c.where_s);
        found.y.push_back(c.size_db);
        found.u.push_back(c.u_db);
    }
    return {
        .title = "Clicks",
        .x_label = "time in the passage / ms",
        .y_label = "size against the note's peak / dB",
        .curves = {std::move(found)},
        .bands = {{.name = "not counted", .lower = std::nullopt, .upper = from_db}},
        .note = fmt::format("A click below {:.0f} dB would have stayed unheard.", heard.hidden_db)};
}

std::vector<passage> plan(const check_request& request) {
    return plan_clicks(request).passages;
}

check_result judge_clicks(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    check_result result;
    const auto plan = plan_clicks(request);
    if (const auto clicks = read_clicks(request, plan, heard)) {
        judge_count(out, request, *clicks);
        judge_largest(out, request, *clicks);
        if (!clicks->clicks.empty())
            result.plots.push_back(click_plot(*clicks, count_from_db(request)));
    } else {
        for (const char* key : {"clicks", "largest click"})
            out.doubt(key, clicks.error(), "the notes");
    }
    judge_dropouts(out, request, plan, heard);
    judge_ramps(out, result, request, plan, heard);
    judge_pop(out, request, heard[0]);
    result.findings = std::move(out).take();
    return result;
}

std::vector<key_spec> keys() {
    using form = key_spec::form;
    const auto demand = [](const char* name, dimension unit, const char* meaning) {
        return key_spec{.name = name, .unit = unit, .meaning = meaning};
    };
    const auto for_each = [&](const char* name, dimension unit, const char* meaning) {
        auto key = demand(name, unit, meaning);
        key.for_each_event = true;
        return key;
    };
    return {
        {.name = "note",
         .kind = form::measure,
         .unit = dimension::volts,
         .meaning = "the pitch voltage of the notes; slides go an octave above it, the slow ways "
                    "begin two octaves above it"},
        {.name = "count from",
         .kind = form::measure,
         .unit = dimension::decibels,
         .meaning = "the size from which clicks count; if not given, that of 'largest click'"},
        demand(
            "clicks", dimension::count,
            "the number of clicks in held notes, gates, notes struck again, slides and jumps is"),
        for_each(
            "largest click", dimension::decibels,
            "the largest click, as the height of a step against the peak of the held note (one "
            "within 0.3 ms of a larger edge of the wave is not told from it), is"),
        demand("dropouts", dimension::count,
               "the number of holes of 0.2 ms and more behind the first 10 ms of each note, and of "
               "places in the held note where samples are missing or played twice, is"),
        for_each("longest dropout", dimension::seconds, "the longest of them is"),
        demand("pitch steps", dimension::cents,
               "while the pitch voltage moves by 0.5 V in 0.75 s, the pitch moves in steps of"),
        demand("pitch step rate", dimension::hertz, "those steps come at a rate of"),
        demand(
            "cutoff steps", dimension::cents,
            "while the cutoff voltage moves slowly, the brightness moves in steps of (from rest to "
            "rest; steps too dense to come to rest between them count as the sudden ones that "
            "have the same line)"),
        demand("cutoff step rate", dimension::hertz, "those steps come at a rate of"),
        demand("pop at boot", dimension::volts,
               "the largest voltage in the opening silence, which of a program begins with "
               "switching on (a live bench, where the module has long been on, skips this), is")};
}

}  // namespace

check clicks_check() {
    return {.spec = {.name = "clicks",
                     .plays = "a held note, gates, slides and jumps, and slow ways of pitch and "
                              "cutoff",
                     .reads = "clicks, dropouts, zipper steps and the pop at switching on",
                     .keys = keys()},
            .plan = plan,
            .judge = judge_clicks};
}

}  // namespace cvrig
