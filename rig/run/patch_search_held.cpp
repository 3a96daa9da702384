#include <algorithm>
#include <cmath>

#include "rig/run/patch_search.hpp"

namespace cvrig::patching {

namespace {

using namespace literals;

constexpr seconds settled_after = 350_ms;
constexpr seconds part_length = 120_ms;
// The delay is known to a few milliseconds: an attack takes its time.
constexpr seconds early_part = 14_ms;
constexpr seconds late_part = -66_ms;
constexpr seconds listened = 60_ms;
/// A gate that is lowered so far is still a gate.
constexpr volts lowered_gate{2.5};

// One output's step there and back while a note is held.
struct excursion {
    std::size_t output;
    held_part before, during, after;
};

struct held_score {
    held_part lead;
    std::vector<excursion> all;
};

held_score write(const search_scene& scene, std::size_t gate, score_writer& score) {
    held_score out;
    score.hold(20_ms);
    score.set(gate, scene.levels.high[gate]);
    auto before = score.hold(settled_after);
    for (std::size_t o = 0; o < scene.desk.outputs.size(); ++o) {
        const volts from = o == gate ? scene.levels.high[o] : volts{0.0};
        const volts to = o == gate ? std::min(lowered_gate, from) : scene.levels.half[o];
        score.set(o, to);
        const auto during = score.hold(part_length);
        score.set(o, from);
        const auto after = score.hold(part_length);
        out.all.push_back({o, before, during, after});
        before = after;
    }
    score.rest();
    score.hold(40_ms);
    return out;
}

// The smaller of two changes of one direction; 0 for two directions.
double common_change(double a, double b) {
    if (a * b <= 0.0) return 0.0;
    return std::abs(a) < std::abs(b) ? a : b;
}

double pitch_change_octaves(const ear& heard, const excursion& e) {
    const auto before = heard.note(e.before, late_part, listened).pitch;
    const auto during = heard.note(e.during, late_part, listened).pitch;
    const auto after = heard.note(e.after, late_part, listened).pitch;
    if (!before || !during || !after) return 0.0;
    return common_change(interval(*during, *before).value(), interval(*during, *after).value()) /
           1200.0;
}

double tilt_db(const note_sound& n) {
    return n.brightness_db - n.level_db;
}

// At both edges: a strike at one of them is not a filter that was moved. Nothing where a note is
// hardly louder than silence.
double brightness_change_db(const ear& heard, const excursion& e, double silence_db) {
    constexpr double over_silence_db = 20.0;
    const auto before = heard.note(e.before, late_part, listened);
    const auto risen = heard.note(e.during, early_part, listened);
    const auto falling = heard.note(e.during, late_part, listened);
    const auto after = heard.note(e.after, early_part, listened);
    for (const auto& n : {before, risen, falling, after})
        if (n.level_db < silence_db + over_silence_db) return 0.0;
    return common_change(tilt_db(risen) - tilt_db(before), tilt_db(falling) - tilt_db(after));
}

void judge(const search_scene& scene, const ear& heard, const excursion& e, search_reading& into) {
    into.effects.push_back(effect_on(scene.desk, e.output, "pitch", pitch_change_octaves(heard, e),
                                     thresholds::pitch_octaves));
    if (into.effects.back().there) {
        into.pitch.push_back(e.output);
        return;
    }
    into.effects.push_back(effect_on(scene.desk, e.output, "cutoff",
                                     brightness_change_db(heard, e, into.silence_db),
                                     thresholds::cutoff_db));
    if (into.effects.back().there) into.cutoff.push_back(e.output);
}

}  // namespace

bool search_held_note(const search_scene& scene, search_reading& into) {
    const auto gate = player_of(into.gate, scene.who.gate);
    if (!gate) return false;
    score_writer score{scene.desk, scene.to_module.rate()};
    const auto played = write(scene, *gate, score);
    const auto record = scene.to_module.play(std::move(score));
    if (!record) {
        into.problem = scene.to_module.problem();
        return false;
    }
    const ear heard{*record, into.best_input, scene.to_module.rate(),
                    into.delay_samples.value_or(0.0)};
    for (const auto& e : played.all) judge(scene, heard, e, into);
    return true;
}

}  // namespace cvrig::patching
