#include "rig/checks/latency.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "rig/checks/gate_timing.hpp"
#include "rig/checks/latency_readings.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

// One good build in a thousand is called uneven.
constexpr double surely_uneven = 0.001;

std::vector<passage> plan(const check_request& request) {
    std::vector<passage> out;
    if (asks_for_delay(request)) out.push_back(gates_at_random(request));
    if (asks_for_lead(request)) out.push_back(notes_with_leads(request).played);
    return out;
}

void doubt_delays(findings& out, const std::string& reason) {
    for (const char* key : {"delay", "jitter", "peak to peak", "worst", "block"})
        out.doubt(key, reason);
}

void judge_block(findings& out, const analysis::spread_reading& spread, double u_each) {
    if (spread.uniform_probability < surely_uneven)
        return out.doubt(
            "block", fmt::format("The delays do not scatter evenly, so they are not those of a "
                                 "firmware that looks once a block; they lie between {} and {}.",
                                 show(spread.least, dimension::seconds),
                                 show(spread.most, dimension::seconds)));
    const double chance =
        std::sqrt(std::max(0.0, spread.u_width * spread.u_width - 2.0 * u_each * u_each));
    out.add("block", make_reading(spread.width, dimension::seconds,
                                  {{"chance of the gates' times", chance},
                                   {"fit of the onsets", std::sqrt(2.0) * u_each}}));
}

std::vector<reading> each(const gate_delays& delays, double u_alignment) {
    std::vector<reading> out;
    for (std::size_t i = 0; i < delays.delay_s.size(); ++i) {
        auto r = make_reading(
            delays.delay_s[i], dimension::seconds,
            {{"fit of the onset", delays.u_s[i]}, {"alignment of the take", u_alignment}},
            fmt::format("gate {} at {:.3f} s", i + 2, delays.sent_s[i]));
        r.where = delays.sent_s[i];
        out.push_back(std::move(r));
    }
    return out;
}

void judge_peak_to_peak(findings& out, const gate_delays& delays, double u_each) {
    std::vector<double> negated;
    for (const double v : delays.delay_s) negated.push_back(-v);
    const auto most = analysis::measure_largest(delays.delay_s, u_each);
    const auto least = analysis::measure_largest(negated, u_each);
    if (!most || !least) return;  // measure_spread has refused before
    out.add("peak to peak", make_reading(most->value + least->value, dimension::seconds,
                                         {{"fit of the latest onset", most->u},
                                          {"fit of the earliest onset", least->u}}));
}

plot delay_plot(const gate_delays& delays, const analysis::spread_reading& spread) {
    plot p{.title = "Gate to sound, gate by gate",
           .x_label = "time of the gate / s",
           .y_label = "delay / ms",
           .curves = {{.name = "delay",
                       .drawn = series::look::points,
                       .x = delays.sent_s,
                       .y = {},
                       .u = {}}},
           .bands = {},
           .note = {}};
    for (std::size_t i = 0; i < delays.delay_s.size(); ++i) {
        p.curves[0].y.push_back(1e3 * delays.delay_s[i]);
        p.curves[0].u.push_back(1e3 * delays.u_s[i]);
    }
    p.note = spread.uniform_probability < surely_uneven
                 ? "The scatter is not that of a firmware that looks once a block."
                 : fmt::format("The scatter is the jitter of one block of {}.",
                               show(spread.width, dimension::seconds, 3));
    return p;
}

void judge_delays(findings& out, check_result& result, const check_request& request,
                  const heard_passage& heard) {
    const auto delays = read_delays(request, heard);
    if (!delays)
        return doubt_delays(out, fmt::format("Could not be measured at any gate: {}.",
                                             analysis::explain(delays.error())));
    if (delays->unanswered > 0)
        return doubt_delays(
            out, fmt::format("{} of {} gates were not followed by the start of a "
                             "note.",
                             delays->unanswered, delays->unanswered + delays->delay_s.size()));
    const double u_each = delays->u_each();
    const auto spread = analysis::measure_spread(delays->delay_s, u_each);
    if (!spread)
        return doubt_delays(
            out, fmt::format("Could not be measured: {}.", analysis::explain(spread.error())));
    const double u_alignment = alignment_uncertainty(request).value();
    out.add("delay", make_reading(spread->mean, dimension::seconds,
                                  {{"scatter of the gates", spread->u_mean},
                                   {"fit of the onsets", u_each},
                                   {"alignment of the take", u_alignment}}));
    out.add("jitter", make_reading(spread->deviation, dimension::seconds,
                                   {{"number of gates", spread->u_deviation}}));
    judge_peak_to_peak(out, *delays, u_each);
    out.add_worst("worst", each(*delays, u_alignment));
    judge_block(out, *spread, u_each);
    result.plots.push_back(delay_plot(*delays, *spread));
}

plot lead_plot(std::span<const lead_answer> answers) {
    plot p{.title = "How long a note begins with the pitch before",
           .x_label = "pitch CV before the gate / ms",
           .y_label = "wrong for / ms",
           .curves = {{.name = "notes", .drawn = series::look::points, .x = {}, .y = {}, .u = {}}},
           .bands = {},
           .note = {}};
    std::size_t kept = 0;
    for (const auto& a : answers) {
        kept += a.kept ? 1 : 0;
        if (a.kept) continue;
        p.curves[0].x.push_back(1e3 * a.lead.value());
        p.curves[0].y.push_back(1e3 * a.wrong_for.value());
        p.curves[0].u.push_back(1e3 * a.u_wrong_for.value());
    }
    if (kept > 0)
        p.note =
            fmt::format("{} notes kept the pitch before to their end and are not shown.", kept);
    return p;
}

hertz distance_of(const check_request& request) {
    const auto pitches = pitches_of(request);
    return request.module.pitch.pitch(pitches.upper) - request.module.pitch.pitch(pitches.lower);
}

void judge_lead(findings& out, check_result& result, const check_request& request,
                const heard_passage& heard) {
    const auto answers = read_leads(request, heard);
    if (!answers) return out.doubt("pitch lead", answers.error(), "the notes with a moving pitch");
    result.plots.push_back(lead_plot(*answers));
    const auto needed = needed_lead(*answers, distance_of(request), request.module.coverage_factor);
    if (!needed) return out.doubt("pitch lead", needed.error(), "the notes with a late pitch");
    out.add("pitch lead",
            make_reading(needed->lead.value(), dimension::seconds, needed->budget, needed->how));
}

check_result judge_latency(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    check_result result;
    if (asks_for_delay(request)) judge_delays(out, result, request, heard.front());
    if (asks_for_lead(request)) judge_lead(out, result, request, heard.back());
    result.findings = std::move(out).take();
    return result;
}

}  // namespace

check latency_check() {
    using form = key_spec::form;
    return {
        .spec = {.name = "latency",
                 .plays = "short notes, gated at random times, and notes whose pitch moves just "
                          "before or after their gate",
                 .reads = "how late and how evenly a gate sounds, and how early the pitch must "
                          "come",
                 .keys = {{.name = "note",
                           .kind = form::measure,
                           .unit = dimension::volts,
                           .meaning = "the pitch voltage of the notes; a high one has sharp "
                                      "starts"},
                          {.name = "delay",
                           .unit = dimension::seconds,
                           .meaning = "the mean time from a gate to its sound is"},
                          {.name = "jitter",
                           .unit = dimension::seconds,
                           .meaning = "the standard deviation of that time is"},
                          {.name = "peak to peak",
                           .unit = dimension::seconds,
                           .meaning = "the longest of these times less the shortest is"},
                          {.name = "worst",
                           .unit = dimension::seconds,
                           .meaning = "the time from any gate to its sound is"},
                          {.name = "block",
                           .unit = dimension::seconds,
                           .meaning = "the time between two looks of the firmware at the gate, "
                                      "if the delays scatter evenly over one, is"},
                          {.name = "pitch lead",
                           .unit = dimension::seconds,
                           .meaning = "the shortest lead of the pitch CV before the gate with "
                                      "which a note begins at its pitch is"}}},
        .plan = plan,
        .judge = judge_latency};
}

}  // namespace cvrig
