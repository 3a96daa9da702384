#include <algorithm>
#include <cmath>

#include "rig/run/patch_search.hpp"

namespace cvrig::patching {

namespace {

using namespace literals;

constexpr seconds note_length = 75_ms;
constexpr seconds note_gap = 40_ms;
constexpr seconds struck_from = 20_ms;
constexpr seconds struck_for = 45_ms;

// Two plain notes and two with an output high; the second of each pair counts, so that a module
// that reads an accent one note late is heard as well.
struct trial {
    std::size_t output;
    held_part plain, high;
};

class strike_score {
public:
    strike_score(const search_scene& scene, const search_reading& known, std::size_t gate)
        : scene_{scene},
          gate_{gate},
          pitch_{player_of(known.pitch, scene.who.pitch)},
          cutoff_{player_of(known.cutoff, scene.who.cutoff)},
          score_{scene.desk, scene.to_module.rate()} {
        base();
        score_.hold(20_ms);
    }

    trial play(std::size_t output, std::optional<std::size_t> masked_by = std::nullopt) {
        base();
        if (masked_by) score_.set(*masked_by, mask(*masked_by));
        trial out{output, {}, {}};
        strike();
        out.plain = strike();
        score_.set(output, scene_.levels.high[output]);
        strike();
        out.high = strike();
        return out;
    }

    score_writer take() {
        score_.rest();
        score_.hold(20_ms);
        return std::move(score_);
    }

private:
    void base() {
        score_.rest();
        if (pitch_) score_.set(*pitch_, scene_.levels.upper);
        if (cutoff_) score_.set(*cutoff_, cutoff_low());
    }
    // Below what a gate takes for high, if it can be that the cable of the cutoff is doubled.
    [[nodiscard]] volts cutoff_low() const {
        return std::min(scene_.levels.upper, scene_.levels.half[*cutoff_]);
    }
    [[nodiscard]] volts mask(std::size_t output) const {
        return output == pitch_ ? scene_.levels.top : scene_.levels.high[output];
    }
    held_part strike() {
        score_.set(gate_, scene_.levels.high[gate_]);
        const auto out = score_.hold(note_length);
        score_.set(gate_, volts{0.0});
        score_.hold(note_gap);
        return out;
    }

    const search_scene& scene_;
    std::size_t gate_;
    std::optional<std::size_t> pitch_, cutoff_;
    score_writer score_;
};

double change_db(const ear& heard, const trial& t) {
    const auto plain = heard.note(t.plain, struck_from, struck_for);
    const auto high = heard.note(t.high, struck_from, struck_for);
    const double level = high.level_db - plain.level_db;
    const double brightness = high.brightness_db - plain.brightness_db;
    return std::abs(level) > std::abs(brightness) ? level : brightness;
}

bool is_other(const search_scene& scene, std::size_t output) {
    return has(scene.who.others, output);
}

void judge(const search_scene& scene, const ear& heard, const trial& t, search_reading& into) {
    const bool other = is_other(scene, t.output);
    const auto jack = other ? std::string_view{scene.desk.outputs[t.output].jack} : "accent";
    into.effects.push_back(effect_on(scene.desk, t.output, jack, change_db(heard, t),
                                     other ? thresholds::change_db : thresholds::accent_db));
    if (into.effects.back().there) (other ? into.changed : into.accent).push_back(t.output);
}

// An output under whose high level the accent has no effect any more reaches the accent itself.
void judge_masked(const search_scene& scene, const ear& heard, const trial& t, std::size_t mask,
                  search_reading& into) {
    auto effect = effect_on(scene.desk, mask, "accent", change_db(heard, t), thresholds::accent_db);
    effect.there = !effect.there;
    into.effects.push_back(effect);
    if (effect.there) into.accent.push_back(mask);
}

struct masked_trial {
    trial played;
    std::size_t mask;
};

}  // namespace

bool search_strikes(const search_scene& scene, search_reading& into) {
    const auto gate = player_of(into.gate, scene.who.gate);
    if (!gate) return false;
    strike_score score{scene, into, *gate};
    std::vector<trial> trials;
    for (std::size_t o = 0; o < scene.desk.outputs.size(); ++o)
        if (!has(into.gate, o) && !has(into.pitch, o) && !has(into.cutoff, o))
            trials.push_back(score.play(o));
    std::vector<masked_trial> masked;
    const auto accent = scene.who.accent;
    if (scene.accent_is_masked && accent)
        for (const auto* list : {&into.pitch, &into.cutoff})
            for (const auto o : *list) masked.push_back({score.play(*accent, o), o});
    const auto record = scene.to_module.play(score.take());
    if (!record) {
        into.problem = scene.to_module.problem();
        return false;
    }
    const ear heard{*record, into.best_input, scene.to_module.rate(),
                    into.delay_samples.value_or(0.0)};
    into.strikes_played = true;
    for (const auto& t : trials) judge(scene, heard, t, into);
    if (accent && has(into.accent, *accent))
        for (const auto& t : masked) judge_masked(scene, heard, t.played, t.mask, into);
    return true;
}

}  // namespace cvrig::patching
