#include "rig/checks/waveform.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "analysis/inharmonic.hpp"
#include "analysis/wave_pitch.hpp"
#include "rig/checks/held_note.hpp"
#include "rig/checks/listening.hpp"
#include "rig/checks/waveform_readings.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

using namespace literals;
using analysis::classic_wave;

constexpr const char* no_duty = "Only a square has a duty, and this is to be none.";
constexpr const char* none_of_them = "none of the three";
// Where aliases fall, and so how a filter weakens them and how they add, depends on the last cent
// of the pitch. Eight strikes each of the demo's three waves, of pitches some hundredths of a cent
// apart, scattered by 0.8 to 1.1 dB.
constexpr decibels u_alias_of_one_note{1.0};
constexpr std::initializer_list<const char*> profile_keys{"wave", "distance", "square share",
                                                          "even-odd balance", "duty"};

volts high_note_of(const check_request& request) {
    const auto* jack = request.module.find_jack("pitch");
    const double top = jack == nullptr ? request.module.pitch.at.value() + 3.0 : jack->high.value();
    return volts{parameter(request, "high note", top)};
}

// The higher the note, the more of a naive wave's harmonics lie beyond half the rate and fold back.
passage high_note(const check_request& request) {
    const volts at = high_note_of(request);
    const seconds held = 0.2_s * std::pow(1.6, request.attempt - 1);
    return {.check = request.wanted.name,
            .steps = {{.length = 20_ms, .pitch = at}, {.length = held, .pitch = at, .gate = true}},
            .purpose = "a high held note",
            .choice = request.choice};
}

std::vector<passage> plan(const check_request& request) {
    return {held_note(request), high_note(request)};
}

reading reading_of(analysis::profile_reading r, dimension unit, const std::string& at) {
    return make_reading(r.value, unit, {{"scatter of the harmonics", r.u}}, at);
}

// A duty is demanded of squares alone; without a word on the wave, of whatever is one.
bool demands_square(const check_request& request) {
    const auto* expected = request.wanted.find<word>("wave", request.choice);
    return expected == nullptr || expected->text == "square";
}

struct wave_readings {
    std::vector<reading> distance, share, balance, duty;
    std::optional<answer> wave;  ///< of the jack at which the odds are worst
};

// Against the wave that the file names, else against the closest.
classic_wave wave_to_compare(const check_request& request, const named_wave& heard) {
    const auto* expected = request.wanted.find<word>("wave", request.choice);
    if (expected != nullptr)
        for (const auto w : {classic_wave::saw, classic_wave::blend, classic_wave::square})
            if (expected->text == name_of(w)) return w;
    return heard.closest;
}

void read_profile(wave_readings& out, const check_request& request,
                  const analysis::wave_profile& profile, const std::string& at) {
    constexpr double sure = 0.977;
    const auto named = name_wave(profile);
    out.distance.push_back(reading_of(
        analysis::distance_db(profile, wave_to_compare(request, named)), dimension::decibels, at));
    out.share.push_back(
        reading_of(analysis::square_share_percent(profile), dimension::percent, at));
    out.balance.push_back(
        reading_of(analysis::even_odd_balance_db(profile), dimension::decibels, at));
    if (named.odds_of("square") >= sure || (named.closest == classic_wave::square && !named.is_any))
        out.duty.push_back(reading_of(profile.high_share, dimension::percent, at));
    const auto* expected = request.wanted.find<word>("wave", request.choice);
    if (expected == nullptr) return;
    const answer heard{.text = named.is_any ? std::string{name_of(named.closest)} : none_of_them,
                       .probability = named.is_any ? named.odds_of(name_of(named.closest)) : 0.999,
                       .probability_of_expected = named.odds_of(expected->text),
                       .at = at};
    if (!out.wave || heard.probability_of_expected < out.wave->probability_of_expected)
        out.wave = heard;
}

void judge_profiles(findings& out, check_result& result, const check_request& request,
                    const heard_passage& heard) {
    wave_readings all;
    std::vector<analysis::wave_profile> profiles;
    for (std::size_t jack = 0; jack < heard.volts.size(); ++jack) {
        const auto& at = request.module.listen[jack];
        auto profile = heard_profile(request, heard, jack);
        if (!profile) {
            for (const char* key : profile_keys)
                if (std::string_view{key} != "duty" || demands_square(request))
                    out.doubt(key, profile.error(), at);
            if (!demands_square(request)) out.pass_over("duty", no_duty);
            return;
        }
        read_profile(all, request, *profile, at);
        profiles.push_back(std::move(*profile));
    }
    if (all.wave) out.add("wave", *all.wave);
    out.add_worst("distance", all.distance);
    out.add_worst("square share", all.share);
    out.add_worst("even-odd balance", all.balance);
    if (!demands_square(request))
        out.pass_over("duty", no_duty);
    else if (all.duty.size() == heard.volts.size())
        out.add_worst("duty", all.duty);
    else
        out.doubt("duty", "Not every output gives a square whose duty could be read.");
    result.plots.push_back(profile_plot(request, profiles));
}

void judge_aliases(findings& out, const check_request& request, const heard_passage& heard) {
    const hertz expected = request.module.pitch.pitch(high_note_of(request));
    std::vector<reading> all;
    for (std::size_t jack = 0; jack < heard.volts.size(); ++jack) {
        const auto& at = request.module.listen[jack];
        const auto note = held_part(heard, jack);
        if (!sounds(heard, jack, note)) return out.doubt("aliases", analysis::refusal::silent, at);
        const auto spectrum = analysis::line_reader::of(note, heard.rate);
        if (!spectrum) return out.doubt("aliases", spectrum.error(), at);
        const auto pitch = analysis::pitch_of_wave(*spectrum, expected, 8);
        if (!pitch) return out.doubt("aliases", pitch.error(), at);
        const auto rest =
            analysis::measure_inharmonic(note, heard.silence[jack], heard.rate, *pitch);
        if (!rest) return out.doubt("aliases", rest.error(), at);
        all.push_back(make_reading(
            rest->level.value(), dimension::decibels,
            {{"noise", rest->u.value()}, {"pitch of this very note", u_alias_of_one_note.value()}},
            fmt::format("{}, most at {:.0f} Hz", at, rest->loudest.value())));
        all.back().where = rest->loudest.value();
    }
    out.add_worst("aliases", all);
}

// A wave is a thing, not something that the module does.
void word_failures(std::vector<finding>& all) {
    for (auto& f : all)
        if (f.name == "wave" && f.outcome == verdict::fail && f.answered && f.expected)
            f.reason = fmt::format("wave at {} is {}, but the file demands {}.", f.answered->at,
                                   f.answered->text, f.expected->text);
}

check_result judge_waveform(const check_request& request, std::span<const heard_passage> heard) {
    findings out{request};
    check_result result;
    judge_profiles(out, result, request, heard[0]);
    judge_aliases(out, request, heard[1]);
    result.findings = std::move(out).take();
    word_failures(result.findings);
    return result;
}

std::vector<key_spec> keys() {
    using form = key_spec::form;
    return {
        {.name = "note",
         .kind = form::measure,
         .unit = dimension::volts,
         .meaning = "the pitch voltage of the low held note, whose harmonics are read"},
        {.name = "high note",
         .kind = form::measure,
         .unit = dimension::volts,
         .meaning = "the pitch voltage of the high held note, whose aliases are read"},
        {.name = "wave",
         .kind = form::word,
         .words = {"saw", "blend", "square"},
         .meaning = "the wave, whatever smooth filter it passes, is"},
        {.name = "distance",
         .unit = dimension::decibels,
         .meaning = "what the harmonics leave when that wave is taken away, relative to it, is"},
        {.name = "square share",
         .unit = dimension::percent,
         .meaning = "the share of the square in the mix of saw and square is"},
        {.name = "even-odd balance",
         .unit = dimension::decibels,
         .meaning = "the power of the even harmonics against the odd ones (0 dB in a saw, "
                    "-9.5 dB in a half-way blend) is"},
        {.name = "duty",
         .unit = dimension::percent,
         .meaning = "where the wave is a square, the part of its period in which it is high is"},
        {.name = "aliases",
         .unit = dimension::decibels,
         .meaning = "what of the high note is no harmonic, relative to its harmonics, is"}};
}

}  // namespace

check waveform_check() {
    return {.spec = {.name = "waveform",
                     .plays = "a low held note, the same as the level check, and a high one",
                     .reads = "which wave it is, how well it is shaped, and what aliases",
                     .keys = keys()},
            .plan = plan,
            .judge = judge_waveform};
}

}  // namespace cvrig
