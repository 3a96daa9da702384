#include "rig/checks/extremes.hpp"

#include <array>
#include <cmath>

#include "rig/checks/cutoff_stair.hpp"
#include "rig/checks/extremes_notes.hpp"
#include "rig/checks/listening.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using namespace literals;

constexpr std::size_t before = 1;
constexpr std::size_t afterwards = 5;
constexpr const char* survival = "sound afterwards";
constexpr const char* level_key = "level afterwards";

volts note_of(const check_request& request) {
    return volts{parameter(request, "note", request.module.pitch.at.value() + 1.0)};
}

std::vector<passage> plan(const check_request& request) {
    const auto range = range_of(request, "cutoff");
    passage p{.check = request.wanted.name,
              .steps = {},
              .purpose = "a note before, at and after the extremes",
              .choice = request.choice};
    const auto add = [&](seconds length, volts cutoff, bool gate) {
        step s{.length = length, .pitch = note_of(request), .gate = gate};
        s.others["cutoff"] = cutoff;
        p.steps.push_back(std::move(s));
    };
    const hertz pitch = request.module.pitch.pitch(note_of(request));
    const seconds held = std::max(0.15_s, least_held(pitch)) * std::pow(1.5, request.attempt - 1);
    for (const volts cutoff : {range.middle(), range.high, range.middle()}) {
        add(50_ms, cutoff, false);
        add(held, cutoff, true);
    }
    return {p};
}

void judge_level(findings& out, const note_pair& notes, const heard_passage& heard) {
    const char* where = "the note after the extremes";
    const auto level = measure_level_change(notes, heard);
    if (!level) return out.doubt(level_key, level.error(), where);
    out.add(level_key, make_reading(level->change.value(), dimension::decibels,
                                    {{"noise", level->u_noise.value()},
                                     {"when each strike was heard", level->u_strike.value()},
                                     {"how equal two strikes are", level->u_repeat.value()},
                                     {"what rings beside the tone", level->u_ringing.value()}},
                                    where));
}

check_result judge_extremes(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    const auto notes =
        hear_notes(heard[0], before, afterwards, request.module.pitch.pitch(note_of(request)));
    if (!notes.first.tone || !notes.first.is_heard) {
        const auto why = notes.first.tone ? analysis::refusal::silent : notes.first.tone.error();
        for (const char* key : {survival, level_key})
            out.doubt(key, why, "the note before the extremes");
    } else {
        constexpr double sure = 0.999;
        const bool survives = is_tone_again(notes, heard[0]);
        out.add(survival, answer{.text = survives ? "survives" : "is silent or noisy afterwards",
                                 .probability = sure,
                                 .probability_of_expected = survives ? sure : 1.0 - sure,
                                 .at = {}});
        judge_level(out, notes, heard[0]);
    }
    check_result result;
    result.findings = std::move(out).take();
    return result;
}

}  // namespace

check extremes_check() {
    using form = key_spec::form;
    return {
        .spec = {.name = "extremes",
                 .plays = "a note, one with the cutoff CV at its highest, and the first again",
                 .reads = "whether the voice still sounds after its controls were at their ends",
                 .keys = {{.name = "note",
                           .kind = form::measure,
                           .unit = dimension::volts,
                           .meaning = "the pitch voltage of the notes"},
                          {.name = survival,
                           .kind = form::word,
                           .words = {"survives"},
                           .meaning = "the note sounds again after the extremes: it survives"},
                          {.name = level_key,
                           .unit = dimension::decibels,
                           .meaning =
                               "the level of the note's first four harmonics after the extremes, "
                               "re that before, is"}}},
        .plan = plan,
        .judge = judge_extremes};
}

}  // namespace cvrig
