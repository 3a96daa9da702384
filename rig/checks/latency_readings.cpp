#include "rig/checks/latency_readings.hpp"

#include <algorithm>
#include <cmath>

#include "rig/checks/gate_timing.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

using namespace literals;

namespace {

constexpr seconds before_gate = 2_ms;
// About a period of the notes: a pitch that is wrong for less is not heard as wrong, and a filter
// that opens meanwhile may look like it.
constexpr seconds unheard = 1.5_ms;
// A filter that opens while the note begins shifts the fundamental: by this much of a cycle (type B,
// GUM 4.3; four poles that open from five times the pitch shift it by a tenth at the very start).
constexpr double u_filter_cycles = 0.02;

seconds at_sample(std::size_t sample, sample_rate rate) {
    return seconds{static_cast<double>(sample) / rate.value()};
}

seconds end_of_step(const heard_passage& heard, std::size_t index) {
    const std::size_t end =
        index + 1 < heard.step_starts.size() ? heard.step_starts[index + 1] : heard.end;
    return at_sample(end, heard.rate);
}

// The first note is left out: after a rest it may find a filter closed that the others find open, so
// that it begins with another waveform than it goes on with.
std::vector<std::size_t> note_steps(const heard_passage& heard) {
    std::vector<std::size_t> out;
    for (std::size_t i = 2; i < heard.asked.steps.size(); ++i)
        if (heard.asked.steps[i].gate) out.push_back(i);
    return out;
}

bool begins_right(const lead_answer& a) {
    return !a.kept && a.wrong_for < unheard + 2.0 * a.u_wrong_for;
}

std::vector<lead_answer> without_one_stale(std::span<const lead_answer> answers) {
    std::vector<lead_answer> out(answers.begin(), answers.end());
    const auto is_stale = [&](const lead_answer& a) {
        return a.kept && std::ranges::any_of(answers, [&](const lead_answer& other) {
                   return other.lead <= a.lead && !other.kept;
               });
    };
    if (std::ranges::count_if(out, is_stale) == 1) std::erase_if(out, is_stale);
    return out;
}

// From where on every note was right, and the longest lead that is known to have been needed.
struct bracket {
    double wrong_s, right_s;
};

bracket bracket_of(std::span<const lead_answer> answers) {
    double wrong = -INFINITY;
    for (const auto& a : answers)
        if (!begins_right(a)) wrong = std::max(wrong, (a.lead + a.wrong_for).value());
    double right = INFINITY;
    for (const auto& a : answers)
        if (a.lead.value() > wrong) right = std::min(right, a.lead.value());
    // Beyond the longest that was tried nothing is known but that it would have to be longer.
    if (std::isinf(right)) right = 2.0 * std::max(wrong, 0.001);
    // A pitch that comes as late as the latest that was tried is right all the same: what is needed
    // lies below that, and how far below is not asked.
    if (std::isinf(wrong)) wrong = right < 0.0 ? 2.0 * right : -right;
    return {wrong, right};
}

lead_needed between(const bracket& b, double coverage_factor) {
    const double half = 0.5 * (b.right_s - b.wrong_s);
    return {seconds{b.wrong_s + half},
            {{"distance of the leads tried", half / coverage_factor}},
            "between the leads that were tried"};
}

}  // namespace

double gate_delays::u_each() const {
    double squares = 0.0;
    for (const double u : u_s) squares += u * u;
    return u_s.empty() ? 0.0 : std::sqrt(squares / static_cast<double>(u_s.size()));
}

analysis::outcome<gate_delays> read_delays(const check_request& request,
                                           const heard_passage& heard) {
    const auto steps = note_steps(heard);
    const auto pitch =
        sounding_pitch(heard, request.module.pitch.pitch(pitches_of(request).upper), steps, 14_ms);
    if (!pitch) return analysis::refuse(pitch.error());
    gate_delays out{*pitch, {}, {}, {}, 0};
    analysis::refusal why = analysis::refusal::silent;
    for (const std::size_t index : steps) {
        const seconds sent = at_sample(heard.step_starts[index], heard.rate);
        const auto start = analysis::measure_note_start(
            heard.volts[timed_jack], heard.silence[timed_jack], heard.rate,
            {*pitch, sent - before_gate, end_of_step(heard, index), seconds{0.0}});
        if (!start) {
            why = start.error();
            ++out.unanswered;
            continue;
        }
        out.sent_s.push_back(sent.value());
        out.delay_s.push_back((start->at - sent).value());
        out.u_s.push_back(start->u_at.value());
    }
    if (out.delay_s.empty()) return analysis::refuse(why);
    return out;
}

analysis::outcome<std::vector<lead_answer>> read_leads(const check_request& request,
                                                       const heard_passage& heard) {
    const auto pitches = pitches_of(request);
    const auto& law = request.module.pitch;
    const auto tune = notes_with_leads(request);
    std::vector<std::size_t> up;
    std::vector<std::size_t> down;
    for (const auto& n : tune.notes) (n.upward ? up : down).push_back(n.last_step);
    const auto upper = sounding_pitch(heard, law.pitch(pitches.upper), up, 12_ms);
    if (!upper) return analysis::refuse(upper.error());
    const auto lower = sounding_pitch(heard, law.pitch(pitches.lower), down, 12_ms);
    if (!lower) return analysis::refuse(lower.error());
    std::vector<lead_answer> out;
    analysis::refusal why = analysis::refusal::silent;
    for (const auto& n : std::span{tune.notes}.subspan(1)) {  // as in note_steps
        const seconds sent = at_sample(heard.step_starts[n.gate_step], heard.rate);
        const auto read = analysis::measure_pitch_arrival(
            heard.volts[timed_jack], heard.silence[timed_jack], heard.rate,
            {n.upward ? *lower : *upper, n.upward ? *upper : *lower, sent - before_gate,
             end_of_step(heard, n.last_step)});
        if (read)
            out.push_back({n.lead, false, read->wrong_for, read->u_wrong_for});
        else if (read.error() == analysis::refusal::no_pitch)
            out.push_back({n.lead, true, {}, {}});
        else
            why = read.error();
    }
    if (out.empty()) return analysis::refuse(why);
    return out;
}

analysis::outcome<lead_needed> needed_lead(std::span<const lead_answer> all, hertz apart,
                                           double coverage_factor) {
    const auto answers = without_one_stale(all);
    std::vector<double> needed_s;
    double squares = 0.0;
    std::size_t late = 0;
    for (const auto& a : answers) {
        if (a.lead.value() > 0.0) continue;
        ++late;
        if (a.kept || begins_right(a)) continue;
        needed_s.push_back((a.lead + a.wrong_for).value());
        squares += a.u_wrong_for.value() * a.u_wrong_for.value();
    }
    if (late < 8) return analysis::refuse(analysis::refusal::too_short);
    const auto b = bracket_of(answers);
    if (needed_s.size() < 8) return between(b, coverage_factor);
    const double u_fit = std::sqrt(squares / static_cast<double>(needed_s.size()));
    const auto spread = analysis::measure_spread(needed_s, u_fit);
    if (!spread) return analysis::refuse(spread.error());
    // The largest of n lies short of the end by as much as n of them lie apart.
    const double beyond =
        (spread->most - spread->least) / (static_cast<double>(needed_s.size()) - 1.0);
    const double end = spread->most + beyond;
    const double u_filter = u_filter_cycles / apart.value();
    if (b.wrong_s > end + unheard.value() + 2.0 * (beyond + u_fit))
        return between(b, coverage_factor);
    return lead_needed{seconds{end},
                       {{"few notes for the longest", beyond},
                        {"fit of the pitch's arrival", u_fit},
                        {"filter that moves", u_filter}},
                       "from notes whose pitch came late"};
}

}  // namespace cvrig
