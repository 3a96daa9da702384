#include "rig/checks/accent.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "analysis/centroid.hpp"
#include "analysis/envelope.hpp"
#include "analysis/fit.hpp"
#include "rig/checks/filter_closing.hpp"
#include "rig/checks/listening.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using namespace literals;

// Where the steps of the two passages lie.
enum note_step : std::size_t { plain_before = 1, accented = 3, plain_after = 5 };
enum run_step : std::size_t { first_of_run = 1, last_of_run = 7, after_rest = 9 };

constexpr std::size_t accents_in_run = 4;

// The strike is over and the window clear of the attack; the level has hardly decayed yet.
constexpr seconds heard_from = 20_ms;
constexpr seconds heard_until = 60_ms;
constexpr seconds window = 12_ms;
constexpr seconds hop = 2_ms;
// Share of the reading, from what was read wrongly of a thousand simulated voices
// (scripts/coverage): harmonics that lie under the noise are missing from the plain note first.
constexpr double u_missing_share = 0.002;

volts note_of(const check_request& request) {
    return volts{parameter(request, "note", request.module.pitch.at.value() + 1.0)};
}

step sounding(const check_request& request, seconds length, bool accent) {
    step s{.length = length, .pitch = note_of(request), .gate = true, .accent = accent};
    if (const auto* cutoff = request.wanted.find<measure>("cutoff", request.choice))
        s.others["cutoff"] = volts{cutoff->in_base_unit};
    return s;
}

step resting(const check_request& request, seconds length) {
    step s = sounding(request, length, false);
    s.gate = false;
    return s;
}

passage three_notes(const check_request& request) {
    const seconds held = 0.5_s * std::pow(1.5, request.attempt - 1);
    return {.check = "accent",
            .steps = {resting(request, 20_ms), sounding(request, held, false),
                      resting(request, 50_ms), sounding(request, held, true),
                      resting(request, 50_ms), sounding(request, 0.1_s, false)},
            .purpose = "a plain, an accented and a plain note",
            .choice = request.choice};
}

passage run_of_accents(const check_request& request) {
    const seconds apart{parameter(request, "spacing", 0.12)};
    const seconds recovery{parameter(request, "rest", 1.5)};
    passage run{.check = "accent",
                .steps = {resting(request, recovery * 0.8)},
                .purpose = "a run of accents",
                .choice = request.choice};
    for (std::size_t i = 0; i < accents_in_run; ++i) {
        run.steps.push_back(sounding(request, apart * 0.75, true));
        run.steps.push_back(resting(request, i + 1 < accents_in_run ? apart * 0.25 : recovery));
    }
    run.steps.push_back(sounding(request, 0.09_s, true));
    return run;
}

std::vector<passage> plan(const check_request& request) {
    std::vector<passage> out{three_notes(request)};
    if (request.wanted.keys.contains("build-up") || request.wanted.keys.contains("fall back"))
        out.push_back(run_of_accents(request));
    return out;
}

struct struck_note {
    double level_db{0}, u_level_db{0};
    std::vector<analysis::envelope_frame> frames;
};

struct mean_and_u {
    double mean, u;
};

// Mean level over the frames. A decay is no scatter, so what counts is the distance from a straight
// line; frames share most of their windows, so few of them are independent.
mean_and_u mean_of(std::span<const double> at_s, std::span<const double> values) {
    const auto line = analysis::fit_line(at_s, values);
    if (!line) return {values.empty() ? 0.0 : values.front(), INFINITY};
    double centre_s = 0.0;
    for (const double t : at_s) centre_s += t / static_cast<double>(at_s.size());
    const double frames_a_window = 0.45 * window.value() / hop.value();
    const double independent =
        std::max(3.0, static_cast<double>(at_s.size()) / std::max(1.0, frames_a_window));
    return {line->at(centre_s), widened(line->residual_sd / std::sqrt(independent),
                                        static_cast<std::size_t>(independent) - 2)};
}

analysis::outcome<struck_note> listen(const check_request& request, const heard_passage& heard,
                                      std::size_t index) {
    const auto sound = part_of_step(heard, 0, index, 0_ms, 1_ms);
    const hertz pitch = request.module.pitch.pitch(note_of(request));
    auto frames =
        analysis::track_envelope(sound, heard.rate, {.pitch = pitch, .window = window, .hop = hop});
    if (!frames) return analysis::refuse(frames.error());
    std::vector<double> at_s, level;
    for (const auto& f : *frames) {
        if (f.at < heard_from || f.at > heard_until || f.level.value() <= 0.0) continue;
        at_s.push_back(f.at.value());
        level.push_back(20.0 * std::log10(f.level.value()));
    }
    if (level.size() < 3) return analysis::refuse(analysis::refusal::silent);
    struck_note out;
    const auto l = mean_of(at_s, level);
    out.level_db = l.mean;
    out.u_level_db = l.u;
    out.frames = std::move(*frames);
    return out;
}

// From the same part of the note as the level, or longer where that is but few periods.
analysis::outcome<analysis::changing_centroid> brightness_of(const heard_passage& heard,
                                                             std::size_t index, hertz pitch) {
    const auto sound = part_of_step(heard, 0, index, 0_ms, 1_ms);
    const auto at = [&](double t_s) { return static_cast<std::size_t>(t_s * heard.rate.value()); };
    const double least_s = 4.1 / pitch.value();
    const double until_s = std::max(heard_until.value(), heard_from.value() + least_s);
    return analysis::measure_changing_centroid(part(sound, at(heard_from.value()), at(until_s)),
                                               heard.rate, pitch);
}

void judge_brightness(findings& out, const heard_passage& heard, hertz pitch) {
    if (!out.wanted("brightness rise")) return;
    const auto lifted = brightness_of(heard, accented, pitch);
    const auto plain = brightness_of(heard, plain_before, pitch);
    if (!lifted || !plain)
        return out.doubt("brightness rise", lifted ? plain.error() : lifted.error(),
                         lifted ? "the plain note" : "the accented note");
    const double ratio = lifted->harmonic / plain->harmonic;
    const auto part_of_budget = [&](double u_lifted, double u_plain) {
        return ratio * std::hypot(u_lifted / lifted->harmonic, u_plain / plain->harmonic);
    };
    out.add("brightness rise",
            make_reading(
                ratio, dimension::ratio,
                {{"noise between the harmonics", part_of_budget(lifted->u_noise, plain->u_noise)},
                 {"phase of the strike", part_of_budget(lifted->u_phase, plain->u_phase)},
                 {"harmonics under the noise", u_missing_share * ratio}}));
}

reading difference(double a, double u_a, double b, double u_b) {
    return make_reading(a - b, dimension::decibels,
                        {{"scatter of the frames", std::hypot(u_a, u_b)}});
}

void judge_decay(findings& out, const heard_passage& heard, hertz pitch) {
    if (!out.wanted("decay ratio")) return;
    const auto lifted = hear_closing(heard, accented, pitch);
    const auto plain = hear_closing(heard, plain_before, pitch);
    if (!lifted || !plain)
        return out.doubt("decay ratio", lifted ? plain.error() : lifted.error(),
                         lifted ? "the plain note" : "the accented note");
    const double ratio = lifted->closing.time_constant / plain->closing.time_constant;
    out.add("decay ratio", make_reading(ratio, dimension::ratio, ratio_budget(*lifted, *plain)));
}

plot envelope_plot(std::string title,
                   std::span<const std::pair<std::string, const struck_note*>> notes) {
    plot p{.title = std::move(title),
           .x_label = "time since the gate / ms",
           .y_label = "level / dB re 1 V",
           .curves = {},
           .bands = {},
           .note = {}};
    for (const auto& [name, note] : notes) {
        series curve{.name = name, .drawn = series::look::line, .x = {}, .y = {}, .u = {}};
        for (const auto& f : note->frames) {
            if (f.level.value() <= 0.0) continue;
            curve.x.push_back(1e3 * f.at.value());
            curve.y.push_back(20.0 * std::log10(f.level.value()));
        }
        p.curves.push_back(std::move(curve));
    }
    return p;
}

void judge_three(findings& out, check_result& result, const check_request& request,
                 const heard_passage& heard) {
    const auto before = listen(request, heard, plain_before);
    const auto lifted = listen(request, heard, accented);
    const auto after = listen(request, heard, plain_after);
    if (!before || !lifted || !after) {
        const auto why = !before ? before.error() : !lifted ? lifted.error() : after.error();
        const char* at = !before   ? "the plain note"
                         : !lifted ? "the accented note"
                                   : "the plain note after the accent";
        for (const char* key : {"level rise", "brightness rise", "decay ratio", "next note"})
            out.doubt(key, why, at);
        return;
    }
    out.add("level rise",
            difference(lifted->level_db, lifted->u_level_db, before->level_db, before->u_level_db));
    // A module that is out of tune is heard all the same.
    const hertz pitch = before->frames.front().pitch;
    judge_brightness(out, heard, pitch);
    out.add("next note",
            difference(after->level_db, after->u_level_db, before->level_db, before->u_level_db));
    judge_decay(out, heard, pitch);
    const std::vector<std::pair<std::string, const struck_note*>> shown{
        {"plain", &*before}, {"accented", &*lifted}, {"plain, after the accent", &*after}};
    result.plots.push_back(envelope_plot("Plain and accented notes", shown));
}

void judge_run(findings& out, check_result& result, const check_request& request,
               const heard_passage& heard) {
    const auto first = listen(request, heard, first_of_run);
    const auto last = listen(request, heard, last_of_run);
    const auto again = listen(request, heard, after_rest);
    if (!first || !last || !again) {
        const auto why = !first ? first.error() : !last ? last.error() : again.error();
        for (const char* key : {"build-up", "fall back"}) out.doubt(key, why, "the run of accents");
        return;
    }
    out.add("build-up",
            difference(last->level_db, last->u_level_db, first->level_db, first->u_level_db));
    out.add("fall back",
            difference(again->level_db, again->u_level_db, first->level_db, first->u_level_db));
    const std::vector<std::pair<std::string, const struck_note*>> shown{
        {"first accent", &*first}, {"last of the run", &*last}, {"after the rest", &*again}};
    result.plots.push_back(envelope_plot("A run of accents", shown));
}

check_result judge_accent(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    check_result result;
    judge_three(out, result, request, heard[0]);
    if (heard.size() > 1) judge_run(out, result, request, heard[1]);
    result.findings = std::move(out).take();
    return result;
}

}  // namespace

check accent_check() {
    using form = key_spec::form;
    return {
        .spec =
            {.name = "accent",
             .plays = "plain and accented notes, and a run of accents",
             .reads = "what an accent adds, and what is left of it afterwards",
             .keys = {{.name = "note",
                       .kind = form::measure,
                       .unit = dimension::volts,
                       .meaning = "the pitch voltage of the notes"},
                      {.name = "cutoff",
                       .kind = form::measure,
                       .unit = dimension::volts,
                       .meaning = "the cutoff voltage while they sound"},
                      {.name = "spacing",
                       .kind = form::measure,
                       .unit = dimension::seconds,
                       .meaning = "the time from accent to accent in the run"},
                      {.name = "rest",
                       .kind = form::measure,
                       .unit = dimension::seconds,
                       .meaning = "the rest after the run"},
                      {.name = "level rise",
                       .unit = dimension::decibels,
                       .meaning = "an accent raises the level by"},
                      {.name = "brightness rise",
                       .unit = dimension::ratio,
                       .meaning =
                           "an accent multiplies the amplitude-weighted mean of the harmonics by"},
                      {.name = "decay ratio",
                       .unit = dimension::ratio,
                       .meaning = "an accented note's cutoff falls, in octaves, with this multiple "
                                  "of a plain note's time constant:"},
                      {.name = "next note",
                       .unit = dimension::decibels,
                       .meaning = "the plain note after an accent differs from a plain note by"},
                      {.name = "build-up",
                       .unit = dimension::decibels,
                       .meaning = "the fourth of four close accents is above the first by"},
                      {.name = "fall back",
                       .unit = dimension::decibels,
                       .meaning = "after a rest an accent differs from the first of the run by"}}},
        .plan = plan,
        .judge = judge_accent};
}

}  // namespace cvrig
