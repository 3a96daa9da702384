#include "rig/checks/tracking.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <utility>

#include "analysis/fit.hpp"
#include "rig/checks/listening.hpp"
#include "rig/checks/stair.hpp"
#include "rig/expectations/baseline_limit.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

std::vector<passage> plan(const check_request& request) {
    return {stair_passage(request)};
}

struct bench_parts {
    double voltage_cents;
    double clock_cents;
};

reading of_note(reading r, const measured_note& n) {
    r.at = name_of(n);
    r.where = n.at.value();
    r.upward = n.upward;
    return r;
}

reading note_error(const measured_note& n, const bench_parts& b) {
    return of_note(make_reading(n.error_cents, dimension::cents,
                                {{"pitch estimator", n.u_cents},
                                 {"bench voltage", b.voltage_cents},
                                 {"sample clock", b.clock_cents}}),
                   n);
}

void judge_line(findings& out, const std::vector<measured_note>& notes,
                const check_request& request, const bench_parts& b,
                std::vector<double>& line_cents) {
    std::vector<double> x;
    std::vector<double> y;
    for (const auto& n : notes) {
        x.push_back(request.module.pitch.per_volt(n.at - request.module.pitch.at).value() / 1200.0);
        y.push_back(n.error_cents);
    }
    const auto fit = analysis::fit_line(x, y);
    if (!fit) return out.doubt("scale", fit.error(), "the stair");
    const auto [low, high] = std::minmax_element(x.begin(), x.end());
    const double span_octaves = std::max(*high - *low, 1e-9);
    const double percent_per_cent_per_octave = 100.0 / 1200.0;
    // A bench whose voltages are each off by u can tilt the line by at most the two ends'
    // difference.
    out.add("scale",
            make_reading(fit->slope * percent_per_cent_per_octave, dimension::percent,
                         {{"scatter of the notes", widened(fit->u_slope, fit->degrees_of_freedom) *
                                                       percent_per_cent_per_octave},
                          {"bench voltage", std::sqrt(2.0) * b.voltage_cents / span_octaves *
                                                percent_per_cent_per_octave}}));
    out.add("offset",
            make_reading(
                fit->intercept, dimension::cents,
                {{"scatter of the notes", widened(fit->u_intercept, fit->degrees_of_freedom)},
                 {"bench voltage", b.voltage_cents},
                 {"sample clock", b.clock_cents}},
                fmt::format("at {}", show(request.module.pitch.at.value(), dimension::volts))));
    std::vector<reading> departures;
    for (std::size_t i = 0; i < notes.size(); ++i) {
        line_cents.push_back(fit->intercept + fit->slope * x[i]);
        departures.push_back(of_note(make_reading(y[i] - line_cents.back(), dimension::cents,
                                                  {{"pitch estimator", notes[i].u_cents},
                                                   {"bench voltage", b.voltage_cents}}),
                                     notes[i]));
    }
    out.add_worst("straightness", departures);
}

// Up against down at the same voltage: what stays at no time apart is hysteresis, what grows is
// drift.
void judge_up_and_down(findings& out, const std::vector<measured_note>& notes) {
    std::vector<double> gap_s;
    std::vector<double> difference;
    std::vector<const measured_note*> ups;
    std::vector<double> u;
    for (const auto& a : notes) {
        if (!a.upward) continue;
        for (const auto& z : notes) {
            if (z.upward || std::abs((z.at - a.at).value()) > 1e-9) continue;
            gap_s.push_back(z.time_s - a.time_s);
            difference.push_back(z.error_cents - a.error_cents);
            ups.push_back(&a);
            u.push_back(std::hypot(a.u_cents, z.u_cents));
        }
    }
    const std::string missing = "The stair must go up and down over several notes for this demand.";
    if (gap_s.size() < 3) {
        out.doubt("hysteresis", missing);
        out.doubt("drift", missing);
        return;
    }
    const auto fit = analysis::fit_line(gap_s, difference);
    if (!fit) return out.doubt("drift", fit.error(), "the stair");
    const double length_s = *std::max_element(gap_s.begin(), gap_s.end());
    auto drift = make_reading(
        fit->slope * length_s, dimension::cents,
        {{"scatter of the notes", widened(fit->u_slope, fit->degrees_of_freedom) * length_s}},
        fmt::format("over {}", show(length_s, dimension::seconds, 2)));
    drift.where = length_s;
    out.add("drift", drift);
    std::vector<reading> hysteresis;
    for (std::size_t i = 0; i < gap_s.size(); ++i)
        hysteresis.push_back(
            make_reading(std::abs(difference[i] - fit->slope * gap_s[i]), dimension::cents,
                         {{"pitch estimator", u[i]},
                          {"repeatability of a strike", strike_repeatability().value()}},
                         show(ups[i]->at.value(), dimension::volts)));
    out.add_worst("hysteresis", hysteresis);
}

void judge_settling(findings& out, const std::vector<measured_note>& notes) {
    std::vector<reading> settling;
    for (const auto& n : notes) {
        if (n.u_settling_cents < 0) continue;
        settling.push_back(of_note(make_reading(n.settling_cents, dimension::cents,
                                                {{"pitch estimator", n.u_settling_cents}}),
                                   n));
    }
    out.add_worst("settling", settling);
}

// A limit that follows a baseline is one for the size of the largest error.
void add_band(plot& p, const limit& allowed) {
    if (allowed.lacks_baseline()) return;
    if (!allowed.of_baseline) {
        p.bands.push_back({allowed.text, allowed.lower, allowed.upper});
    } else if (allowed.of_baseline->limits_above) {
        const double most = largest_size(allowed);
        p.bands.push_back({allowed.text, -most, most});
    }
}

plot error_plot(const check_request& request, const std::vector<measured_note>& notes,
                const std::vector<double>& line_cents, const bench_parts& b) {
    plot p{.title = "Pitch error against pitch voltage",
           .x_label = "pitch voltage / V",
           .y_label = "error / cent",
           .curves = {},
           .bands = {},
           .note = "Each point is one note; bars are k standard uncertainties."};
    series up{.name = "going up", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    series down{.name = "going down", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    series line{
        .name = "best straight line", .drawn = series::look::line, .x = {}, .y = {}, .u = {}};
    for (std::size_t i = 0; i < notes.size(); ++i) {
        auto& curve = notes[i].upward ? up : down;
        curve.x.push_back(notes[i].at.value());
        curve.y.push_back(notes[i].error_cents);
        curve.u.push_back(note_error(notes[i], b).standard_uncertainty);
        if (notes[i].upward && i < line_cents.size()) {
            line.x.push_back(notes[i].at.value());
            line.y.push_back(line_cents[i]);
        }
    }
    if (const auto* allowed = request.wanted.find<limit>("error", request.choice))
        add_band(p, *allowed);
    for (auto* curve : {&up, &down, &line})
        if (!curve->x.empty()) p.curves.push_back(std::move(*curve));
    return p;
}

check_result judge_stair(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    const measured_stair stair = measure_stair(request, heard[0]);
    const bench_parts b{bench_pitch_uncertainty(request).value(),
                        clock_pitch_uncertainty(request).value()};
    check_result result;
    if (stair.refused) {
        for (const char* key :
             {"error", "scale", "offset", "straightness", "hysteresis", "settling", "drift"})
            out.doubt(key, *stair.refused, stair.refused_at);
    } else {
        std::vector<reading> errors;
        for (const auto& n : stair.notes) errors.push_back(note_error(n, b));
        out.add_worst("error", errors);
        result.noted = std::move(errors);
        std::vector<double> line_cents;
        judge_line(out, stair.notes, request, b, line_cents);
        judge_up_and_down(out, stair.notes);
        judge_settling(out, stair.notes);
        result.plots.push_back(error_plot(request, stair.notes, line_cents, b));
    }
    result.findings = std::move(out).take();
    return result;
}

}  // namespace

check tracking_check() {
    using form = key_spec::form;
    return {.spec = {.name = "tracking",
                     .plays = "a stair of struck notes over the pitch range",
                     .reads = "each note's pitch error, and the line through them",
                     .keys = {{.name = "notes",
                               .kind = form::stair,
                               .meaning = "the notes to play",
                               .required = true},
                              {.name = "error",
                               .unit = dimension::cents,
                               .meaning = "the pitch of every note is off by"},
                              {.name = "scale",
                               .unit = dimension::percent,
                               .meaning = "the best line's slope is off by"},
                              {.name = "offset",
                               .unit = dimension::cents,
                               .meaning = "the best line is off, at the reference voltage, by"},
                              {.name = "straightness",
                               .unit = dimension::cents,
                               .meaning = "every note departs from the best line by"},
                              {.name = "hysteresis",
                               .unit = dimension::cents,
                               .meaning = "a note reached from below and from above differs by"},
                              {.name = "settling",
                               .unit = dimension::cents,
                               .meaning = "the beginning of every note differs from the rest by"},
                              {.name = "drift",
                               .unit = dimension::cents,
                               .meaning = "over the whole stair the pitch moves by"}}},
            .plan = plan,
            .judge = judge_stair};
}

}  // namespace cvrig
