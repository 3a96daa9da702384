#include "rig/checks/slide.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "analysis/course.hpp"
#include "analysis/glide.hpp"
#include "rig/checks/listening.hpp"
#include "rig/checks/slide_passages.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using namespace literals;

using namespace slide_steps;

// A slide is fitted from some periods before it starts until its end.
constexpr seconds fitted_before = 105_ms;

struct heard_slide {
    std::string name;
    analysis::outcome<analysis::glide_reading> glide;
    std::size_t begins{0};  // first sample of the fitted record, in the passage
};

struct slide_bounds {
    std::size_t step;  // index of the slid step in the passage
    hertz from, to;
    double relative_u_from;
};

// Fits the slide that starts with step `b.step`.
heard_slide fit(const heard_passage& heard, const slide_bounds& b, std::string name) {
    const std::size_t start = heard.step_starts[b.step];
    const auto before = static_cast<std::size_t>(fitted_before.value() * heard.rate.value());
    const std::size_t earliest =
        heard.step_starts[b.step - 1] +
        static_cast<std::size_t>(slide_attack.value() * heard.rate.value());
    const std::size_t begin = std::max(start > before ? start - before : 0, earliest);
    const std::size_t end =
        b.step + 1 < heard.step_starts.size() ? heard.step_starts[b.step + 1] : heard.end;
    analysis::glide_request request;
    request.from = b.from;
    request.to = b.to;
    request.relative_u_from = b.relative_u_from;
    request.relative_u_to = 0.01;
    request.expected_start = seconds{static_cast<double>(start - begin) / heard.rate.value()};
    request.u_start = 3_ms;
    request.noise_rms = noise_of(heard.silence[0]);
    const auto record = part(heard.volts[0], begin, end > 24 ? end - 24 : end);
    return {std::move(name), analysis::measure_glide(record, heard.rate, request), begin};
}

analysis::outcome<analysis::tone_reading> tail_pitch(const heard_passage& heard, std::size_t step,
                                                     seconds length, hertz expected) {
    const std::size_t last =
        step + 1 < heard.step_starts.size() ? heard.step_starts[step + 1] : heard.end;
    const auto count = static_cast<std::size_t>(length.value() * heard.rate.value());
    return pitch_near(part(heard.volts[0], last > count ? last - count : 0, last - 24), heard.rate,
                      expected);
}

struct slide_findings {
    std::vector<reading> time_constant, rise_time, overshoot, arrival;
    std::vector<std::pair<std::string, analysis::refusal>> refused;
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

void add_times(slide_findings& out, const check_request& request, const heard_slide& s) {
    const auto& g = *s.glide;
    const double clock = relative_clock_uncertainty(request) * g.time_constant.value();
    out.time_constant.push_back(
        make_reading(g.time_constant.value(), dimension::seconds,
                     {{"slide fit", g.u_time_constant.value()}, {"sample clock", clock}}, s.name));
    const bool linear = g.shape == analysis::glide_shape::linear_in_volts;
    const double factor = linear ? 0.8 : std::log(9.0);
    out.rise_time.push_back(make_reading(
        factor * g.time_constant.value(), dimension::seconds,
        {{"slide fit", factor * g.u_time_constant.value()}, {"sample clock", factor * clock}},
        s.name));
    out.overshoot.push_back(
        make_reading(g.overshoot.value(), dimension::cents, {{"pitch by pieces", 0.3}}, s.name));
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

void add_arrival(slide_findings& out, const heard_passage& heard, const heard_slide& s,
                 hertz expected) {
    const auto plain =
        pitch_near(part_of_step(heard, 0, 4, slide_attack, 1_ms), heard.rate, expected);
    if (!plain) return;
    std::optional<hertz> ended;
    double u_cents = 0.0;
    if (s.glide) {
        const double end =
            static_cast<double>(heard.step_starts[slid + 1] - s.begins) / heard.rate.value();
        ended = glide_pitch(*s.glide, seconds{end});
        u_cents = 1200.0 / std::log(2.0) * (s.glide->u_to / s.glide->to);
    } else if (const auto tail = tail_pitch(heard, slid, 80_ms, expected)) {
        ended = tail->pitch;
        u_cents = tail->u_cents().value();
    }
    if (!ended) return;
    out.arrival.push_back(
        make_reading(interval(*ended, plain->pitch).value(), dimension::cents,
                     {{"slide's end", u_cents}, {"plain note", plain->u_cents().value()}}, s.name));
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

// The passages that the interrupted slide is compared with.
struct interruption {
    const heard_passage& whole;  // a slide that was left to finish, and slid back
    const heard_slide& back;     // the fit of its second slide
    const heard_passage& interrupted;
};

constexpr seconds compared{0.045};

// Once the interrupted slide turns back it should follow the same course as a whole slide back does
// from the moment that it passes the same pitch. The same window of both courses is compared, so
// that what a gliding pitch does to the estimator cancels.
void judge_interrupted(findings& out, const check_request& request, const interruption& i,
                       const heard_slide& first) {
    if (!first.glide) return out.doubt("interrupted", first.glide.error(), first.name);
    if (!i.back.glide) return out.doubt("interrupted", i.back.glide.error(), i.back.name);
    const double rate = i.interrupted.rate.value();
    const double tau = i.back.glide->time_constant.value();
    const auto& starts = i.interrupted.step_starts;
    const double lasted = static_cast<double>(starts[second_slid] - starts[slid]) / rate;
    // Part of the way that the first slide had made, and with it how far into a whole slide back
    // the same pitch comes.
    const double made = 1.0 - std::exp(-lasted / first.glide->time_constant.value());
    const double later = -tau * std::log(made);
    const double delay =
        i.back.glide->start.value() -
        static_cast<double>(i.whole.step_starts[second_slid] - i.back.begins) / rate;
    const auto count = static_cast<std::size_t>(compared.value() * rate);
    std::vector<hertz> course;
    for (std::size_t n = 0; n < count; ++n)
        course.push_back(glide_pitch(
            *i.back.glide, i.back.glide->start + seconds{later + static_cast<double>(n) / rate}));
    const auto offset = [&](const heard_passage& heard, double from_s) {
        const auto begin =
            heard.step_starts[second_slid] + static_cast<std::size_t>(std::llround(from_s * rate));
        const auto window = part(heard.volts[0], begin, begin + count);
        return analysis::measure_offset(window, std::span{course}.first(window.size()), heard.rate);
    };
    const auto a = offset(i.interrupted, delay);
    const auto b = offset(i.whole, delay + later);
    if (!a || !b)
        return out.doubt("interrupted", a ? b.error() : a.error(), "the interrupted slide");
    // An error at the turn decays with the slide; this is what is left of it on average between the
    // windows' centres.
    const double first_centre = compared.value() / 3.0;
    const double left =
        tau / first_centre * (std::exp(-first_centre / tau) - std::exp(-2.0 * first_centre / tau));
    const double speed = std::abs(interval(i.back.glide->from, i.back.glide->to).value()) / tau;
    out.add("interrupted",
            make_reading((a->offset - b->offset).value() / left, dimension::cents,
                         {{"pitch of the moving tone",
                           std::hypot(a->u_offset.value(), b->u_offset.value()) / left},
                          {"instant of the turn",
                           speed * std::hypot(i.back.glide->u_start.value(), 0.3 / rate)}},
                         name_of(featured_slide(request)) + " and back"));
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
        return;
    }
    add_times(all, request, s);
    add_shape(all, request, s);
}

// One slide that surely fails decides; otherwise one that could not be measured leaves the demand
// open.
void add_or_doubt(findings& out, const check_request& request, const char* key,
                  const std::vector<reading>& measured, const slide_findings& all) {
    const auto* allowed = request.wanted.find<limit>(key, request.choice);
    const bool fails =
        allowed != nullptr && std::ranges::any_of(measured, [&](const reading& r) {
            return judge(r, *allowed, request.module.coverage_factor) == verdict::fail;
        });
    if (all.refused.empty() || fails) return out.add_worst(key, measured);
    out.doubt(key, all.refused.front().second, all.refused.front().first);
}

void report(findings& out, const check_request& request, const slide_findings& all) {
    add_or_doubt(out, request, "time constant", all.time_constant, all);
    add_or_doubt(out, request, "rise time", all.rise_time, all);
    add_or_doubt(out, request, "overshoot", all.overshoot, all);
    if (all.shape)
        out.add("shape", *all.shape);
    else
        out.doubt("shape", "No slide was wide and clean enough to tell its shape.");
    out.add_worst("arrival", all.arrival);
}

heard_slide fit_single(const check_request& request, const heard_passage& heard,
                       const voltage_step& s) {
    const auto& law = request.module.pitch;
    hertz from = law.pitch(s.from);
    double relative_u = 0.003;
    if (const auto lead =
            pitch_near(part_of_step(heard, 0, first_note, slide_attack, 1_ms), heard.rate, from)) {
        from = lead->pitch;
        relative_u = std::max(lead->u_pitch / lead->pitch, 1e-5);
    }
    return fit(heard, {slid, from, law.pitch(s.to), relative_u}, name_of(s));
}

void judge_others(findings& out, slide_findings& all, const check_request& request,
                  std::span<const heard_passage> others, const heard_slide& first) {
    const auto& law = request.module.pitch;
    const auto& s = featured_slide(request);
    // A first slide that is not over yet leaves its pitch, not the demanded one, to the second.
    hertz turned_at = law.pitch(s.to);
    if (const auto tail = tail_pitch(others[0], slid, 60_ms, turned_at)) turned_at = tail->pitch;
    const auto back =
        fit(others[0], {second_slid, turned_at, law.pitch(s.from), 0.003}, "second slide of a run");
    collect(all, request, back);
    report(out, request, all);
    if (demands(request, "interrupted"))
        judge_interrupted(out, request, {others[0], back, others[1]}, first);
    if (demands(request, "without slide"))
        judge_jump(out, fit(others.back(), {slid, law.pitch(s.from), law.pitch(s.to), 0.003},
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
        singles.push_back(fit_single(request, heard[i], wanted[i]));
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
