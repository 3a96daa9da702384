#include "rig/run/patch_verdict.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/bench/sockets.hpp"
#include "rig/run/cable_sentences.hpp"

namespace cvrig::patching {

namespace {

struct effect_on_jack {
    std::size_t output;  ///< that is meant for it
    const std::vector<std::size_t>* sources;
    bool must_be_proven;
};

std::vector<effect_on_jack> known_jacks(const cast& who, const search_reading& found) {
    std::vector<effect_on_jack> out;
    const auto add = [&](std::optional<std::size_t> meant, const std::vector<std::size_t>& sources,
                         bool needed) {
        if (meant) out.push_back({*meant, &sources, needed});
    };
    add(who.gate, found.gate, true);
    add(who.pitch, found.pitch, true);
    add(who.accent, found.accent, false);
    add(who.slide, found.slide, false);
    add(who.cutoff, found.cutoff, false);
    return out;
}

void doubt(const bench& b, std::size_t output, std::string_view more, patch_result& into) {
    const auto& o = b.outputs[output];
    into.unproven_jacks.push_back(o.jack);
    into.cannot_exclude.push_back(fmt::format(
        "Nothing was heard of {} at jack {}: its cable may be missing or not fully in, that output "
        "may be inverted, another cable may hold the jack high, or this build does nothing with "
        "it{}. Put that cable into a jack that works and check again: if it is heard there, cable "
        "and output are good.",
        socket_of(o), o.jack, more));
}

void say_missing(const bench& b, const effect_on_jack& j, patch_result& into) {
    const auto& o = b.outputs[j.output];
    into.sentences.push_back(fmt::format(
        "No output moves the {}: the cable of {} to jack {} is missing or not fully in, or that "
        "output is inverted and the module takes what is below 0 V for 0 V.",
        o.jack, socket_of(o), o.jack));
}

void judge_gain(const bench& b, const search_reading& found, patch_result& into) {
    if (found.pitch.size() != 1 || !found.octaves_per_octave) return;
    const auto socket = socket_of(b.outputs[found.pitch[0]]);
    const double gain = *found.octaves_per_octave;
    if (std::abs(gain - 1.0) <= thresholds::gain_error) return;
    if (gain < 0.0) {
        into.sentences.push_back(
            fmt::format("The pitch falls when {} rises: that output is inverted, or the two cores "
                        "of its cable are exchanged; give its trim the other sign or take another "
                        "cable.",
                        socket));
    } else if (gain > 0.35 && gain < 0.65) {
        into.sentences.push_back(fmt::format(
            "{} moves the pitch by only {:.2f} octave where one octave was asked for, so half of "
            "the voltage is lost: the cold leg of a balanced output may be shorted by a mono plug, "
            "or a volume control or mixer on the way may be turned down.",
            socket, gain));
    } else {
        into.sentences.push_back(fmt::format(
            "{} moves the pitch by {:.2f} octave where one octave was asked for: look for a volume "
            "control or mixer on the way, and trim that output again.",
            socket, gain));
    }
}

void say_no_gate(const bench& b, const cast& who, const search_reading& found, patch_result& into) {
    const auto& o = b.outputs[*who.gate];
    if (found.sounds_by_itself) {
        into.sentences.push_back(
            "The module sounds although every output is at 0 V, so that no cable can be told: a "
            "knob or switch may hold a note, another cable may be in its gate, or this build does "
            "not end its notes.");
        return;
    }
    if (found.any_sound)
        into.sentences.push_back(
            fmt::format("The module sounds, but no output starts a note: the cable of {} to jack "
                        "{} is missing or leads elsewhere, or that output is inverted.",
                        socket_of(o), o.jack));
    else
        into.sentences.push_back(fmt::format(
            "Nothing is heard, whichever output is pulsed: the module is off, turned down or "
            "silent in this mode, the cables from it are out, or nothing reaches its jack {} "
            "(cable of {} missing, or that output inverted).",
            o.jack, socket_of(o)));
}

void judge_others(const bench& b, const cast& who, const search_reading& found,
                  patch_result& into) {
    for (const auto o : who.others) {
        if (has(found.changed, o))
            into.reached_by[b.outputs[o].jack] = {b.outputs[o].jack};
        else
            doubt(b, o, "", into);
    }
}

// Whether it was listened for what the output that is meant for a jack does there.
bool was_heard_for(const search_reading& found, std::string_view jack) {
    return std::any_of(found.effects.begin(), found.effects.end(),
                       [&](const patch_effect& e) { return e.output == jack && e.jack == jack; });
}

void say_incomplete(patch_result& into) {
    into.cannot_exclude.push_back(
        "The other cables could not be checked; put right what is said above and check again.");
}

void judge_missing(const bench& b, const cast& who, const search_reading& found,
                   const effect_on_jack& j, const std::vector<cable>& cables, patch_result& into) {
    const bool elsewhere = std::any_of(cables.begin(), cables.end(),
                                       [&](const cable& c) { return c.output == j.output; });
    const auto& jack = b.outputs[j.output].jack;
    if (elsewhere || !was_heard_for(found, jack)) {
        if (!j.must_be_proven) into.unproven_jacks.push_back(jack);
        return;
    }
    if (j.must_be_proven) return say_missing(b, j, into);
    doubt(b, j.output,
          j.output == who.slide && found.always_glides
              ? " (every tied step glides, whatever any output does)"
              : "",
          into);
}

// What a jack of unknown effect does to what can be told.
void mention_others(const bench& b, const cast& who, patch_result& into) {
    if (who.others.empty()) return;
    std::vector<std::string> names;
    for (const auto o : who.others) names.push_back(b.outputs[o].jack);
    into.cannot_exclude.push_back(
        fmt::format("What {} does to the sound is not known here: it was only heard whether the "
                    "output changes anything, not whether the cable is in the right jack.",
                    list_of(names)));
}

}  // namespace

void judge_search(const bench& b, const cast& who, const search_reading& found,
                  patch_result& into) {
    into.effects.insert(into.effects.end(), found.effects.begin(), found.effects.end());
    if (found.gate.empty()) return say_no_gate(b, who, found, into);
    const auto jacks = known_jacks(who, found);
    std::vector<cable> cables;
    for (const auto& j : jacks)
        for (const auto o : *j.sources) {
            cables.push_back({o, j.output});
            into.reached_by[b.outputs[j.output].jack].push_back(b.outputs[o].jack);
        }
    const auto wrong = sentences_about(b, cables, [&](std::size_t output) {
        return was_heard_for(found, b.outputs[output].jack);
    });
    into.sentences.insert(into.sentences.end(), wrong.begin(), wrong.end());
    for (const auto& j : jacks)
        if (j.sources->empty()) judge_missing(b, who, found, j, cables, into);
    judge_gain(b, found, into);
    if (!found.strikes_played) return say_incomplete(into);
    judge_others(b, who, found, into);
    mention_others(b, who, into);
}

void accept_short_test(const bench& b, const cast& who, const short_reading& held,
                       patch_result& into) {
    into.short_test_held = true;
    into.effects = held.effects;
    for (const auto& o : {who.gate, who.pitch, who.accent, who.slide, who.cutoff})
        if (o) into.reached_by[b.outputs[*o].jack] = {b.outputs[*o].jack};
    for (const auto o : who.others) {
        if (has(held.unproven, o))
            doubt(b, o, "", into);
        else
            into.reached_by[b.outputs[o].jack] = {b.outputs[o].jack};
    }
    mention_others(b, who, into);
}

void judge_inputs(const bench& b, const std::vector<bool>& sounds, patch_result& into) {
    if (std::none_of(sounds.begin(), sounds.end(), [](bool s) { return s; })) return;
    for (std::size_t i = 0; i < b.inputs.size() && i < sounds.size(); ++i)
        if (!sounds[i])
            into.sentences.push_back(fmt::format(
                "Nothing arrives at {}, though the module sounds: the cable from its jack {} is "
                "missing or not fully in, or that output of the module is dead.",
                socket_of(b.inputs[i]), b.inputs[i].jack));
}

void judge_routes(const bench& b, const module_expectations& m, const route_reading& routes,
                  const std::vector<bool>& inputs_sound, patch_result& into) {
    if (m.listen.size() < 2) return;
    if (!routes.told) {
        into.cannot_exclude.push_back(fmt::format(
            "An exchange of the cables from {} cannot be excluded: they carry the same sound{}",
            list_of(m.listen),
            routes.problem.empty() ? ", and the module was not asked to silence one of them."
                                   : ". " + routes.problem));
        return;
    }
    into.heard_at = routes.heard_at;
    const auto wrong = sentences_about_inputs(b, routes.heard_at, [&](const std::string& jack) {
        for (std::size_t i = 0; i < b.inputs.size() && i < inputs_sound.size(); ++i)
            if (b.inputs[i].jack == jack) return !inputs_sound[i];
        return false;
    });
    into.sentences.insert(into.sentences.end(), wrong.begin(), wrong.end());
}

}  // namespace cvrig::patching
