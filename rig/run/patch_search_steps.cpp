#include <algorithm>
#include <cmath>
#include <numbers>

#include "rig/run/patch_search.hpp"

namespace cvrig::patching {

namespace {

using namespace literals;

constexpr seconds settled_after = 100_ms;
constexpr seconds step_length = 150_ms;
constexpr seconds back_length = 80_ms;
/// A module may read one jack a little after another.
constexpr seconds ahead = 20_ms;
constexpr seconds late_part = -66_ms;
constexpr seconds listened = 60_ms;
/// Later than the smoothing of a jack would make it.
constexpr double always_glides_ms = 60.0;
constexpr double slides_by_pitch_ms = 30.0;
constexpr double follows_db = 4.0;
constexpr double same_harmonics_db = 1.0;

struct step_parts {
    held_part low, plain, top;
    std::vector<std::pair<std::size_t, held_part>> with;  ///< an output and its step
    std::optional<held_part> open_lower, open_upper, closed_upper, closed_lower, closed_lowest;
};

class step_score {
public:
    step_score(const search_scene& scene, const search_reading& known, std::size_t gate,
               std::size_t pitch)
        : scene_{scene},
          known_{known},
          gate_{gate},
          pitch_{pitch},
          cutoff_{player_of(known.cutoff, scene.who.cutoff)},
          score_{scene.desk, scene.to_module.rate()} {}

    step_parts write() {
        step_parts p;
        base(scene_.levels.lower);
        score_.hold(20_ms);
        score_.set(gate_, scene_.levels.high[gate_]);
        p.low = score_.hold(settled_after);
        p.plain = step(scene_.levels.lower, scene_.levels.upper);
        for (std::size_t o = 0; o < scene_.desk.outputs.size(); ++o)
            if (!has(known_.gate, o) && !has(known_.pitch, o)) p.with.push_back({o, step_with(o)});
        if (cutoff_) score_.set(*cutoff_, scene_.levels.high[*cutoff_]);
        p.top = step(scene_.levels.top_lower, scene_.levels.top);
        if (cutoff_) write_cutoff(p);
        score_.rest();
        score_.hold(40_ms);
        return p;
    }
    score_writer take() { return std::move(score_); }

private:
    [[nodiscard]] volts bright() const {
        return std::min(scene_.levels.upper, scene_.levels.half[*cutoff_]);
    }
    void base(volts pitch) {
        score_.set(pitch_, pitch);
        if (cutoff_) score_.set(*cutoff_, bright());
    }
    held_part step(volts from, volts to) {
        score_.set(pitch_, from);
        score_.hold(back_length);
        score_.set(pitch_, to);
        return score_.hold(step_length);
    }
    held_part step_with(std::size_t output) {
        score_.set(pitch_, scene_.levels.lower);
        score_.hold(back_length);
        score_.set(output, scene_.levels.high[output]);
        score_.hold(ahead);
        score_.set(pitch_, scene_.levels.upper);
        const auto out = score_.hold(step_length);
        score_.set(output, output == cutoff_ ? bright() : volts{0.0});
        return out;
    }
    held_part note(volts pitch, volts cutoff) {
        score_.set(pitch_, pitch);
        score_.set(*cutoff_, cutoff);
        return score_.hold(step_length);
    }
    void write_cutoff(step_parts& p) {
        const auto& l = scene_.levels;
        p.open_lower = note(l.top_lower, l.high[*cutoff_]);
        p.open_upper = note(l.top, l.high[*cutoff_]);
        p.closed_upper = note(l.top, volts{0.0});
        p.closed_lower = note(l.top_lower, volts{0.0});
        p.closed_lowest = note(l.lower, volts{0.0});
    }

    const search_scene& scene_;
    const search_reading& known_;
    std::size_t gate_, pitch_;
    std::optional<std::size_t> cutoff_;
    score_writer score_;
};

class step_judge {
public:
    step_judge(const search_scene& scene, const ear& heard, const step_parts& parts,
               std::size_t pitch, search_reading& into)
        : scene_{scene}, heard_{heard}, parts_{parts}, pitch_{pitch}, into_{into} {}

    void run() {
        const auto target = pitch_of(parts_.plain);
        judge_gain(pitch_of(parts_.low), target);
        if (target) {
            const double plain = arrival_ms(parts_.plain, *target);
            into_.always_glides = plain > always_glides_ms;
            for (const auto& [output, part] : parts_.with)
                judge(output, arrival_ms(part, *target) - plain);
            judge_slide_by_pitch(plain);
        }
        judge_cutoff_by_pitch();
    }

private:
    std::optional<hertz> pitch_of(held_part p) const {
        return heard_.note(p, late_part, listened).pitch;
    }
    void judge_gain(std::optional<hertz> from, std::optional<hertz> to) {
        const double asked =
            (scene_.levels.upper - scene_.levels.lower) / scene_.module.pitch.per_octave;
        if (from && to && asked > 0.0)
            into_.octaves_per_octave = interval(*to, *from).value() / 1200.0 / asked;
    }
    double arrival_ms(held_part p, hertz target) const {
        return 1e3 * heard_.arrival(p, target).value();
    }
    void judge(std::size_t output, double later_ms) {
        into_.effects.push_back(
            effect_on(scene_.desk, output, "slide", later_ms, thresholds::slide_ms));
        auto& e = into_.effects.back();
        e.there = later_ms >= thresholds::slide_ms;
        if (e.there) into_.slide.push_back(output);
    }
    // Told only where the filter is open: a closed one rings for as long as a slide takes.
    void judge_slide_by_pitch(double plain_ms) {
        const auto top = pitch_of(parts_.top);
        const bool slid_by_cutoff = std::any_of(into_.cutoff.begin(), into_.cutoff.end(),
                                                [&](auto o) { return has(into_.slide, o); });
        if (!top || into_.cutoff.empty() || slid_by_cutoff) return;
        const double later = arrival_ms(parts_.top, *top) - plain_ms;
        auto e = effect_on(scene_.desk, pitch_, "slide", later, slides_by_pitch_ms);
        e.there = later >= slides_by_pitch_ms;
        into_.effects.push_back(e);
        if (e.there) into_.slide.push_back(pitch_);
    }
    // A closed filter takes more from a high note than an open one does, and leaves it fewer
    // harmonics than a low note, unless it follows the pitch.
    void judge_cutoff_by_pitch() {
        const bool moves = into_.octaves_per_octave && *into_.octaves_per_octave > 0.3;
        if (!parts_.open_lower || !moves || has(into_.cutoff, pitch_)) return;
        const double open = level(parts_.open_lower) - level(parts_.open_upper);
        const double closed = level(parts_.closed_lower) - level(parts_.closed_upper);
        const double fewer = harmonics_db(parts_.closed_lowest) - harmonics_db(parts_.closed_upper);
        auto e = effect_on(scene_.desk, pitch_, "cutoff", closed - open, follows_db);
        e.there = closed - open < follows_db && std::abs(fewer) < same_harmonics_db;
        into_.effects.push_back(e);
        if (e.there) into_.cutoff.push_back(pitch_);
    }
    double level(const std::optional<held_part>& p) const {
        return heard_.level_db(*p, late_part, listened);
    }
    // 0 for a sine, whatever its pitch; more for more harmonics.
    double harmonics_db(const std::optional<held_part>& p) const {
        const auto n = heard_.note(*p, late_part, listened);
        const double hz = n.pitch ? n.pitch->value() : heard_.rate().value();
        const double of_a_sine = 2.0 * std::sin(std::numbers::pi * hz / heard_.rate().value());
        return n.brightness_db - n.level_db - 20.0 * std::log10(of_a_sine);
    }

    const search_scene& scene_;
    const ear& heard_;
    const step_parts& parts_;
    std::size_t pitch_;
    search_reading& into_;
};

}  // namespace

bool search_steps(const search_scene& scene, search_reading& into) {
    const auto gate = player_of(into.gate, scene.who.gate);
    const auto pitch = player_of(into.pitch, scene.who.pitch);
    if (!gate || !pitch || *gate == *pitch) return false;
    step_score score{scene, into, *gate, *pitch};
    const auto parts = score.write();
    const auto record = scene.to_module.play(score.take());
    if (!record) {
        into.problem = scene.to_module.problem();
        return false;
    }
    into.steps_played = true;
    const ear heard{*record, into.best_input, scene.to_module.rate(),
                    into.delay_samples.value_or(0.0)};
    step_judge{scene, heard, parts, *pitch, into}.run();
    return true;
}

}  // namespace cvrig::patching
