#include "rig/checks/slide.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "analysis/course.hpp"
#include "rig/checks/listening.hpp"
#include "rig/checks/slide_fit.hpp"
#include "rig/checks/slide_interrupted.hpp"
#include "rig/checks/slide_passages.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using namespace literals;

using namespace slide_steps;

struct slide_findings {
    std::vector<reading> time_constant, rise_time, overshoot, arrival;
    std::vector<std::pair<std::string, analysis::refusal>> refused;
    /// Slides of which not even the overshoot is known.
    std::vector<std::pair<std::string, analysis::refusal>> refused_overshoot;
    std::optional<answer> shape;
};

const char* in_words(analysis::glide_shape s) {
    switch (s) {
        case analysis::glide_shape::exponential_in_volts:
            return "exponential in volts";
        case analysis::glide_shape::exponential_in_hertz:
            return "exponential in hertz";
        case analysis::glide_shape::linear_in_volts:
            return "linear in volts";
    }
    return "";
}

double relative_clock_uncertainty(const check_request& request) {
    return request.desk.u_clock_ppm * 1e-6;
}

void add_overshoot(slide_findings& out, const heard_slide& s, cents beyond, cents u_beyond) {
    out.overshoot.push_back(make_reading(beyond.value(), dimension::cents,
                                         {{"pitch by pieces", u_beyond.value()}}, s.name));
}

// The slide's interval as a number, by which a diagnosis can order the readings.
reading of_slide(reading r, const heard_slide& s) {
    r.at = s.name;
    if (s.glide) r.where = interval(s.glide->to, s.glide->from).value() / 1200.0;
    return r;
}

void add_times(slide_findings& out, const check_request& request, const heard_slide& s) {
    const auto& g = *s.glide;
    const double clock = relative_clock_uncertainty(request) * g.time_constant.value();
    out.time_constant.push_back(
        of_slide(make_reading(g.time_constant.value(), dimension::seconds,
                              {{"slide fit", g.u_time_constant.value()}, {"sample clock", clock}}),
                 s));
    const bool linear = g.shape == analysis::glide_shape::linear_in_volts;
    const double factor = linear ? 0.8 : std::log(9.0);
    out.rise_time.push_back(make_reading(
        factor * g.time_constant.value(), dimension::seconds,
        {{"slide fit", factor * g.u_time_constant.value()}, {"sample clock", factor * clock}},
        s.name));
    add_overshoot(out, s, g.overshoot, g.u_overshoot);
}

// The shape of the slides that could be told; one that is not as demanded outweighs the others.
void add_shape(slide_findings& out, const check_request& request, const heard_slide& s) {
    const auto* expected = request.wanted.find<word>("shape", request.choice);
    if (expected == nullptr || !s.glide->shape_decided) return;
    const std::string text = in_words(s.glide->shape);
    const bool right = text == expected->text;
    if (out.shape && (right || out.shape->text != expected->text)) return;
    out.shape = answer{.text = text,
                       .probability = 0.999,
                       .probability_of_expected = right ? 0.999 : 0.001,
                       .at = s.name};
}

// Pitch at the end of a slide: of the fitted law, mended by what is really heard of it there, since
// a slide that overshoots or creeps does not end as its law does.
struct slide_end {
    hertz pitch;
    std::vector<analysis::contribution> budget;
};

std::optional<slide_end> end_of(const heard_passage& heard, const heard_slide& s, hertz expected) {
    constexpr seconds heard_there{0.080};
    if (!s.glide) {
        const auto tail = tail_pitch(heard, slid, heard_there, expected);
        if (!tail) return std::nullopt;
        return slide_end{tail->pitch, {{"slide's end", tail->u_cents().value()}}};
    }
    const double rate = heard.rate.value();
    const std::size_t end = heard.step_starts[slid + 1];
    const auto count = static_cast<std::size_t>(heard_there.value() * rate);
    const auto pitch_at = [&](std::size_t sample) {
        return glide_pitch(*s.glide, seconds{static_cast<double>(sample - s.begins) / rate});
    };
    std::vector<hertz> course;
    for (std::size_t i = end - count; i < end; ++i) course.push_back(pitch_at(i));
    const auto off = analysis::measure_offset(part(heard.volts[0], end - count, end), course,
                                              heard.rate, noise_of(heard.silence[0]));
    if (!off) return std::nullopt;
    const double u_law = 1200.0 / std::log(2.0) * (s.glide->u_to / s.glide->to);
    return slide_end{pitch_at(end) * std::exp2(off->offset.value() / 1200.0),
                     {{"slide fit", u_law}, {"slide's end", off->u_offset.value()}}};
}

void add_arrival(slide_findings& out, const heard_passage& heard, const heard_slide& s,
                 hertz expected) {
    const auto plain =
        pitch_near(part_of_step(heard, 0, 4, slide_attack, 1_ms), heard.rate, expected);
    auto ended = end_of(heard, s, expected);
    if (!plain || !ended) return;
    ended->budget.push_back({"plain note", plain->u_cents().value()});
    ended->budget.push_back({"repeatability of a strike", strike_repeatability().value()});
    out.arrival.push_back(of_slide(make_reading(interval(ended->pitch, plain->pitch).value(),
                                                dimension::cents, std::move(ended->budget)),
                                   s));
}

plot slide_plot(const heard_slide& s) {
    plot p{.title = "Slide from " + s.name,
           .x_label = "time since the step / ms",
           .y_label = "pitch above its end / cent",
           .curves = {},
           .bands = {},
           .note = "Points are the pitch of single pieces of sound, the line is the fitted slide."};
    series measured{.name = "heard", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    series fitted{.name = "fitted", .drawn = series::look::line, .x = {}, .y = {}, .u = {}};
    const auto& g = *s.glide;
    for (const auto& point : g.course) {
        const double ms = 1e3 * (point.at - g.start).value();
        measured.x.push_back(ms);
        measured.y.push_back(interval(point.measured, g.to).value());
        fitted.x.push_back(ms);
        fitted.y.push_back(interval(point.fitted, g.to).value());
    }
    p.curves = {std::move(fitted), std::move(measured)};
    return p;
}

void judge_jump(findings& out, const heard_slide& s) {
    if (!s.glide) return out.doubt("without slide", s.glide.error(), s.name);
    out.add("without slide",
            make_reading(s.glide->time_constant.value(), dimension::seconds,
                         {{"slide fit", s.glide->u_time_constant.value()}}, s.name));
}

void collect(slide_findings& all, const check_request& request, const heard_slide& s) {
    if (!s.glide) {
        all.refused.emplace_back(s.name, s.glide.error());
        if (s.rough_overshoot)
            add_overshoot(all, s, s.rough_overshoot->beyond, s.rough_overshoot->u_beyond);
        else
            all.refused_overshoot.emplace_back(s.name, s.glide.error());
        return;
    }
    add_times(all, request, s);
    add_shape(all, request, s);
}

// One slide that surely fails decides; otherwise one that could not be measured leaves the demand
// open.
void add_or_doubt(findings& out, const check_request& request, const char* key,
                  const std::vector<reading>& measured,
                  const std::vector<std::pair<std::string, analysis::refusal>>& refused) {
    const auto* allowed = request.wanted.find<limit>(key, request.choice);
    const bool fails =
        allowed != nullptr && std::ranges::any_of(measured, [&](const reading& r) {
            return judge(r, *allowed, request.module.coverage_factor) == verdict::fail;
        });
    if (refused.empty() || fails) return out.add_worst(key, measured);
    out.doubt(key, refused.front().second, refused.front().first);
}

void report(findings& out, const check_request& request, const slide_findings& all) {
    add_or_doubt(out, request, "time constant", all.time_constant, all.refused);
    add_or_doubt(out, request, "rise time", all.rise_time, all.refused);
    add_or_doubt(out, request, "overshoot", all.overshoot, all.refused_overshoot);
    if (all.shape)
        out.add("shape", *all.shape);
    else
        out.doubt("shape", "No slide was wide and clean enough to tell its shape.");
    out.add_worst("arrival", all.arrival);
}

// The second slide of a run sets off from where the first, the same as has been read by itself, tends
// to; or, if that could not be read, from where it has got to.
slide_bounds back_of(const heard_passage& run, const voltage_step& s, const pitch_law& law,
                     const heard_slide& first) {
    slide_bounds back{.step = second_slid,
                      .from = law.pitch(s.to),
                      .to = law.pitch(s.from),
                      .relative_u_from = 0.003};
    if (first.glide) {
        back.from = first.glide->to;
        back.slid_before = first.glide->from;
    } else if (const auto tail = tail_pitch(run, slid, 60_ms, back.from)) {
        back.from = tail->pitch;
    }
    return back;
}

void judge_others(findings& out, slide_findings& all, const check_request& request,
                  std::span<const heard_passage> others, const heard_slide& first) {
    const auto& law = request.module.pitch;
    const auto& s = featured_slide(request);
    const auto back =
        fit_slide(request, others[0], back_of(others[0], s, request.module.pitch, first),
                  "second slide of a run");
    collect(all, request, back);
    report(out, request, all);
    if (demands(request, "interrupted"))
        judge_interrupted(out, request, {others[0], back, others[1]}, first);
    if (demands(request, "without slide"))
        judge_jump(out,
                   fit_slide(request, others.back(),
                             {slid, law.pitch(s.from), law.pitch(s.to), 0.003, "without slide"},
                             name_of(s) + ", no slide"));
}

check_result judge_slides(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    check_result result;
    slide_findings all;
    const auto& wanted = slides_of(request);
    std::vector<heard_slide> singles;
    std::size_t featured = 0;
    for (std::size_t i = 0; i < wanted.size(); ++i) {
        if (&wanted[i] == &featured_slide(request)) featured = i;
        singles.push_back(fit_single_slide(request, heard[i], wanted[i]));
        collect(all, request, singles.back());
        add_arrival(all, heard[i], singles.back(), request.module.pitch.pitch(wanted[i].to));
        if (singles.back().glide) result.plots.push_back(slide_plot(singles.back()));
    }
    judge_others(out, all, request, heard.subspan(wanted.size()), singles[featured]);
    result.findings = std::move(out).take();
    return result;
}

}  // namespace

check slide_check() {
    using form = key_spec::form;
    return {
        .spec = {.name = "slide",
                 .plays =
                     "tied note pairs with the slide on, a run of two, and one that is interrupted",
                 .reads = "how long a slide takes, how it moves and where it ends",
                 .keys = {{.name = "steps",
                           .kind = form::steps,
                           .meaning = "the slides to play",
                           .required = true},
                          {.name = "time constant",
                           .unit = dimension::seconds,
                           .meaning = "every slide's time constant is"},
                          {.name = "rise time",
                           .unit = dimension::seconds,
                           .meaning = "every slide's time from 10 % to 90 % is"},
                          {.name = "shape",
                           .kind = form::word,
                           .words = {"exponential in volts", "exponential in hertz",
                                     "linear in volts"},
                           .meaning = "every slide is"},
                          {.name = "overshoot",
                           .unit = dimension::cents,
                           .meaning = "every slide passes its target by"},
                          {.name = "arrival",
                           .unit = dimension::cents,
                           .meaning = "every slide ends off a struck note at the same voltage by"},
                          {.name = "without slide",
                           .unit = dimension::seconds,
                           .meaning = "the time constant of a tied step with the slide off is"},
                          {.name = "interrupted",
                           .unit = dimension::cents,
                           .meaning =
                               "a slide that interrupts another starts off the pitch reached by"}}},
        .plan = slide_passages,
        .judge = judge_slides};
}

}  // namespace cvrig
