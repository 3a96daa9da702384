#include "rig/checks/envelope.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "rig/checks/envelope_passages.hpp"
#include "rig/checks/envelope_plots.hpp"
#include "rig/checks/envelope_readings.hpp"
#include "rig/checks/filter_closing.hpp"
#include "rig/checks/listening.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using namespace envelope_steps;

// What the fits cannot know, as shares of the reading: a rise is read against a waveform that still
// changes; a fall against a cycle that the closing filter changes a little. Each is the rms of what
// was read wrongly of a thousand simulated voices with a closing filter of four poles
// (scripts/coverage).
constexpr double u_rise_share = 0.016;
constexpr double u_filter_share = 0.0006;
constexpr double u_sustain_db = 0.0018;

void doubt_all(findings& out, std::initializer_list<const char*> keys, analysis::refusal why,
               const std::string& at) {
    for (const char* key : keys) out.doubt(key, why, at);
}

void judge_attack(findings& out, std::span<const heard_passage> heard, hertz pitch) {
    std::vector<double> rises;
    std::optional<analysis::refusal> refused;
    const auto listen = [&](envelope_passage which, std::size_t note) {
        const auto rise = read_attack(heard[which], note, pitch);
        if (rise)
            rises.push_back(rise->value());
        else
            refused = rise.error();
    };
    listen(short_and_long, short_note);
    listen(short_and_long, long_note);
    listen(struck_again, first_struck);
    if (refused) return out.doubt("attack", *refused, "the start of a note");
    const auto n = static_cast<double>(rises.size());
    double mean = 0.0;
    for (const double r : rises) mean += r / n;
    double squares = 0.0;
    for (const double r : rises) squares += (r - mean) * (r - mean);
    const double scatter = std::sqrt(squares / (n - 1.0) / n);
    out.add("attack", make_reading(mean, dimension::seconds,
                                   {{"scatter from note to note", scatter},
                                    {"waveform that still changes", u_rise_share * mean}}));
}

void judge_held(findings& out, const held_course& held) {
    if (held.decay)
        out.add("decay",
                make_reading(held.decay->time_constant.value(), dimension::seconds,
                             {{"scatter of the frames", held.decay->u_time_constant.value()},
                              {"bend of the decay", held.u_bend.value()},
                              {"filter that still moves", held.u_filter.value()}}));
    else
        out.doubt("decay", held.decay.error(), "the long note");
    const double scatter = held.decay ? held.decay->fit_residual.value() : 0.5;
    out.add("sustain",
            make_reading(held.sustained.value(), dimension::decibels,
                         {{"scatter of the frames", std::hypot(scatter, u_sustain_db)}}));
}

reading release_of(const let_go& end) {
    const double tau = end.release->time_constant.value();
    return make_reading(tau, dimension::seconds,
                        {{"scatter of the fall", end.release->u_time_constant.value()},
                         {"filter that still moves", u_filter_share * tau}},
                        end.name);
}

void judge_releases(findings& out, std::span<const let_go> ends) {
    std::vector<reading> all;
    for (const auto& end : ends) {
        if (!end.release) {
            doubt_all(out, {"release", "gate length"}, end.release.error(),
                      "the end of " + end.name);
            return;
        }
        all.push_back(release_of(end));
    }
    out.add_worst("release", all);
    const double ratio = all[1].value / all[0].value;
    const auto share = [&](const let_go& end) {
        return 100.0 * ratio * (end.release->u_time_constant / end.release->time_constant);
    };
    // Of the filter's movement, which bends both alike, only the difference counts.
    out.add("gate length",
            make_reading(100.0 * (ratio - 1.0), dimension::percent,
                         {{"release of the long note", share(ends[1])},
                          {"release of the short note", share(ends[0])},
                          {"filter that still moves", 100.0 * ratio * u_filter_share}}));
}

// Where noise or the record's end hides the rest, the fall is known to be smooth only so far: that
// can prove the demand, but never a fault.
bool proves_too_little(const check_request& request, const let_go& end) {
    const auto* wanted = request.wanted.find<limit>("tail", request.choice);
    return wanted != nullptr && wanted->upper && end.tail->end != analysis::tail_end::cut &&
           end.tail->smooth_to.value() > *wanted->upper;
}

void judge_tails(findings& out, const check_request& request, std::span<const let_go> ends) {
    std::vector<reading> all;
    for (const auto& end : ends) {
        if (!end.tail) return out.doubt("tail", end.tail.error(), "the end of " + end.name);
        if (proves_too_little(request, end))
            return out.doubt(
                "tail",
                fmt::format("The end of {} is lost in the noise, or not heard any more, "
                            "from {} on.",
                            end.name, show(end.tail->smooth_to.value(), dimension::decibels)));
        // A fall that ends in noise is lost where the noise of one short window happens to stand: a
        // level of few degrees of freedom scatters by some 3 dB.
        const double u_noise_db = end.tail->end == analysis::tail_end::noise ? 3.0 : 0.0;
        all.push_back(make_reading(end.tail->smooth_to.value(), dimension::decibels,
                                   {{"spacing of the windows", end.tail->u_smooth_to.value()},
                                    {"noise in one window", u_noise_db}},
                                   end.name));
    }
    out.add_worst("tail", all);
}

void judge_ends(findings& out, check_result& result, const check_request& request,
                const heard_passage& heard, hertz pitch) {
    std::vector<let_go> ends;
    for (const auto& [note, name] :
         {std::pair{short_note, "the short note"}, std::pair{long_note, "the long note"}}) {
        auto end = read_release(request, heard, note, name, pitch);
        if (!end)
            return doubt_all(out, {"release", "gate length", "tail"}, end.error(),
                             std::string{"the end of "} + name);
        ends.push_back(std::move(*end));
    }
    judge_releases(out, ends);
    judge_tails(out, request, ends);
    result.plots.push_back(release_plot(ends));
}

void judge_second_strikes(findings& out, check_result& result, const heard_passage& heard,
                          hertz pitch) {
    std::vector<second_strike> strikes;
    std::vector<reading> drops;
    for (std::size_t i = 0; i < gaps.size(); ++i) {
        auto strike = read_second_strike(heard, gaps[i], pitch);
        const auto name = fmt::format("strike {}", i + 1);
        if (!strike) return out.doubt("strike again", strike.error(), name);
        drops.push_back(make_reading(strike->reading.drop.value(), dimension::decibels,
                                     {{"course around the strike", strike->reading.u_drop.value()}},
                                     name));
        strikes.push_back(std::move(*strike));
    }
    out.add_worst("strike again", drops);
    result.plots.push_back(second_strike_plot(strikes));
}

void judge_closing(findings& out, check_result& result, const check_request& request,
                   const heard_passage& heard, hertz pitch) {
    const auto heard_closing = hear_closing(heard, closing_note, pitch);
    if (!heard_closing)
        return out.doubt("filter decay", heard_closing.error(), "the note whose filter closes");
    out.add("filter decay",
            make_reading(time_constant_of(*heard_closing).value(), dimension::seconds,
                         closing_budget(request, *heard_closing)));
    result.plots.push_back(closing_plot(*heard_closing));
}

check_result judge_envelope(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    check_result result;
    if (const auto held = read_held(request, heard[short_and_long])) {
        judge_attack(out, heard, held->pitch);
        judge_held(out, *held);
        result.plots.push_back(held_plot(*held));
        if (heard.size() > filter_closes)
            judge_closing(out, result, request, heard[filter_closes], held->pitch);
        judge_ends(out, result, request, heard[short_and_long], held->pitch);
        judge_second_strikes(out, result, heard[struck_again], held->pitch);
    } else {
        doubt_all(out,
                  {"attack", "decay", "sustain", "filter decay", "release", "gate length", "tail",
                   "strike again"},
                  held.error(), "the long note");
    }
    result.findings = std::move(out).take();
    return result;
}

std::vector<key_spec> keys() {
    using form = key_spec::form;
    const auto demand = [](const char* name, dimension unit, const char* meaning) {
        return key_spec{.name = name, .unit = unit, .meaning = meaning};
    };
    const auto setting = [](const char* name, dimension unit, const char* meaning) {
        return key_spec{.name = name, .kind = form::measure, .unit = unit, .meaning = meaning};
    };
    return {
        setting("note", dimension::volts, "the pitch voltage of the notes"),
        setting("cutoff", dimension::volts, "the cutoff voltage of the note whose filter closes"),
        setting("gap", dimension::seconds, "the time that the gate is low before a second strike"),
        demand("attack", dimension::seconds, "a note rises from 10 to 90 % of its level in"),
        demand("decay", dimension::seconds,
               "the time constant with which a held note decays (a fall by 8.7 dB) is"),
        demand("sustain", dimension::decibels,
               "a note held for 0.65 s has this level against its start:"),
        demand("filter decay", dimension::seconds,
               "the time constant with which the cutoff of a held note falls, in octaves, is"),
        demand("release", dimension::seconds,
               "the time constant of the fall after a gate (a fall by 8.7 dB) is"),
        demand("gate length", dimension::percent,
               "the release after a long gate is longer than after a short one by"),
        demand("tail", dimension::decibels,
               "a released note falls smoothly, and is not cut off, down to a level of"),
        demand("strike again", dimension::decibels,
               "before a note that is struck again in mid-decay rises, its level drops by")};
}

}  // namespace

check envelope_check() {
    return {
        .spec = {.name = "envelope",
                 .plays = "a short and a long note, notes struck again in mid-decay, and a note "
                          "whose filter closes",
                 .reads = "how notes rise, decay and end, and whether that depends on their gate",
                 .keys = keys()},
        .plan = envelope_passages,
        .judge = judge_envelope};
}

}  // namespace cvrig
