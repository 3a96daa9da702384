#include "rig/checks/retrigger.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "analysis/strike.hpp"
#include "rig/checks/listening.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using namespace literals;

// Both notes well above 100 Hz and a semitone apart: the window of two periods stays short, and
// neither the glide nor a decay that depends on pitch changes much between the references.
constexpr double lower_note_volts = 1.0;
constexpr double semitone_volts = 1.0 / 12.0;
constexpr seconds note_lead = 20_ms;
constexpr seconds gate_gap = 10_ms;
constexpr seconds listened_after = 0.36_s;

struct pair_of_notes {
    volts lower, upper;
};

pair_of_notes notes_of(const check_request& request) {
    const double low =
        parameter(request, "note", request.module.pitch.at.value() + lower_note_volts);
    const double up = low + semitone_volts * request.module.pitch.per_octave.value();
    return {volts{low}, volts{up}};
}

seconds wait_of(const check_request& request) {
    return seconds{parameter(request, "wait", 0.35) * std::pow(1.6, request.attempt - 1)};
}

step with_cutoff(const check_request& request, step s) {
    if (const auto* cutoff = request.wanted.find<measure>("cutoff", request.choice))
        s.others["cutoff"] = volts{cutoff->in_base_unit};
    return s;
}

enum class transition { slide, legato, new_gate, accent };

struct transition_spec {
    transition what;
    const char* key;
    const char* meaning;
};

constexpr std::array transitions{
    transition_spec{transition::slide, "slide", "a tied step with the slide on"},
    transition_spec{transition::legato, "legato", "a tied step without slide"},
    transition_spec{transition::new_gate, "new gate", "a step with a new gate"},
    transition_spec{transition::accent, "accent", "an accent that rises during a held note"}};

passage blank(const check_request& request, std::string purpose, volts at) {
    return {.check = "retrigger",
            .steps = {with_cutoff(request, {.length = note_lead, .pitch = at})},
            .purpose = std::move(purpose),
            .choice = request.choice};
}

passage reference(const check_request& request, volts at) {
    passage p = blank(request, "a plain struck note to compare with", at);
    p.steps.push_back(with_cutoff(
        request, {.length = wait_of(request) + listened_after, .pitch = at, .gate = true}));
    return p;
}

passage stepped(const check_request& request, const transition_spec& t) {
    const auto notes = notes_of(request);
    passage p = blank(request, t.meaning, notes.lower);
    step first{.length = wait_of(request), .pitch = notes.lower, .gate = true};
    step second{.length = listened_after, .pitch = notes.upper, .gate = true};
    if (t.what == transition::slide) second.slide = true;
    if (t.what == transition::accent) {
        second.accent = true;
        second.pitch = notes.lower;
    }
    p.steps.push_back(with_cutoff(request, first));
    if (t.what == transition::new_gate) {
        p.steps.push_back(with_cutoff(request, {.length = gate_gap, .pitch = notes.upper}));
    }
    p.steps.push_back(with_cutoff(request, second));
    return p;
}

std::vector<const transition_spec*> asked(const check_request& request) {
    std::vector<const transition_spec*> out;
    for (const auto& t : transitions)
        if (request.wanted.find<word>(t.key, request.choice) != nullptr) out.push_back(&t);
    return out;
}

std::vector<passage> plan(const check_request& request) {
    const auto notes = notes_of(request);
    std::vector<passage> out{reference(request, notes.lower), reference(request, notes.upper)};
    for (const auto* t : asked(request)) out.push_back(stepped(request, *t));
    return out;
}

// Part of a record from a little before the first strike on.
std::span<const double> from_lead_in(const heard_passage& heard) {
    return part(heard.volts[0], 0, heard.end);
}

analysis::strike_case make_case(const check_request& request, std::span<const heard_passage> heard,
                                std::size_t index, const transition_spec& t) {
    const auto notes = notes_of(request);
    const auto& law = request.module.pitch;
    const bool moves = t.what != transition::accent;
    const seconds gap = t.what == transition::new_gate ? gate_gap : seconds{0.0};
    return {.rate = heard[0].rate,
            .reference_from = from_lead_in(heard[0]),
            .reference_to = from_lead_in(heard[moves ? 1 : 0]),
            .step = from_lead_in(heard[index]),
            .silence = heard[0].silence[0],
            .from = law.pitch(notes.lower),
            .to = law.pitch(moves ? notes.upper : notes.lower),
            .struck_at = note_lead,
            .wait = wait_of(request) + gap};
}

answer answer_of(const analysis::odds& odds, const std::string& expected, std::string at) {
    struct option {
        const char* text;
        double p;
    };
    const std::array options{option{"goes on", odds.went_on}, option{"starts again", odds.struck},
                             option{"starts again in part", odds.partial}};
    const auto best =
        std::max_element(options.begin(), options.end(), [](auto a, auto b) { return a.p < b.p; });
    const auto wanted =
        std::find_if(options.begin(), options.end(), [&](auto o) { return expected == o.text; });
    return {.text = best->text,
            .probability = best->p,
            .probability_of_expected = wanted == options.end() ? 0.0 : wanted->p,
            .at = std::move(at)};
}

void judge_envelope(findings& out, const check_request& request, const transition_spec& t,
                    const std::string& envelope, const analysis::odds& odds,
                    const std::optional<analysis::refusal>& refused) {
    const std::string shown = fmt::format("{}, {} envelope", t.key, envelope);
    if (refused)
        return out.doubt(t.key,
                         fmt::format("The {} envelope cannot be judged: {}.", envelope,
                                     analysis::explain(*refused)),
                         shown);
    const auto* expected = request.wanted.find<word>(t.key, request.choice);
    if (expected == nullptr) return;
    out.add(t.key, answer_of(odds, expected->text, t.meaning), shown);
}

plot strike_plot(const transition_spec& t, const analysis::strike_reading& strike) {
    plot p{.title = fmt::format("Level around {}", t.meaning),
           .x_label = "time since the step / ms",
           .y_label = "fundamental / dB re 1 V",
           .curves = {},
           .bands = {},
           .note =
               "If the envelope goes on, the sound follows the first curve; if it starts again, "
               "the second."};
    series heard{.name = "heard", .drawn = series::look::points, .x = {}, .y = {}, .u = {}};
    series on{.name = "had it gone on", .drawn = series::look::line, .x = {}, .y = {}, .u = {}};
    series again{
        .name = "had it started again", .drawn = series::look::line, .x = {}, .y = {}, .u = {}};
    for (const auto& f : strike.track) {
        const double ms = 1e3 * f.at.value();
        heard.x.push_back(ms);
        heard.y.push_back(f.level.value());
        on.x.push_back(ms);
        on.y.push_back(f.level_if_went_on.value());
        again.x.push_back(ms);
        again.y.push_back(f.level_if_struck.value());
    }
    p.curves = {std::move(on), std::move(again), std::move(heard)};
    return p;
}

// Two notes of noise resemble one another, and would pass for an envelope that goes on.
bool references_sound(std::span<const heard_passage> heard) {
    return std::ranges::all_of(heard.first(2), [](const heard_passage& reference) {
        return sounds(reference, 0, part_of_step(reference, 0, 1, 0_ms, 0_ms));
    });
}

check_result judge_transitions(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    check_result result;
    const auto played = asked(request);
    const bool audible = references_sound(heard);
    for (std::size_t i = 0; i < played.size(); ++i) {
        const auto& t = *played[i];
        if (!audible) {
            out.doubt(t.key, "A plain struck note gives no more than silence does.");
            continue;
        }
        const auto strike = analysis::judge_strike(make_case(request, heard, i + 2, t));
        if (!strike) {
            out.doubt(t.key, strike.error(), t.meaning);
            continue;
        }
        judge_envelope(out, request, t, "amplitude", strike->amplitude, strike->amplitude_refused);
        judge_envelope(out, request, t, "filter", strike->filter, strike->filter_refused);
        result.plots.push_back(strike_plot(t, *strike));
    }
    result.findings = std::move(out).take();
    return result;
}

}  // namespace

check retrigger_check() {
    using form = key_spec::form;
    const std::vector<std::string> words{"goes on", "starts again", "starts again in part"};
    check_spec spec{.name = "retrigger",
                    .plays = "tied steps, new gates and accents, beside plain struck notes",
                    .reads = "whether each strikes the amplitude and the filter envelope again",
                    .keys = {{.name = "note",
                              .kind = form::measure,
                              .unit = dimension::volts,
                              .meaning = "the pitch voltage of the lower note"},
                             {.name = "cutoff",
                              .kind = form::measure,
                              .unit = dimension::volts,
                              .meaning = "the cutoff voltage while they sound"},
                             {.name = "wait",
                              .kind = form::measure,
                              .unit = dimension::seconds,
                              .meaning = "the time from the strike to the step"}}};
    for (const auto& t : transitions)
        spec.keys.push_back({.name = t.key,
                             .kind = form::word,
                             .words = words,
                             .meaning = fmt::format("at {} each envelope", t.meaning)});
    return {.spec = std::move(spec), .plan = plan, .judge = judge_transitions};
}

}  // namespace cvrig
