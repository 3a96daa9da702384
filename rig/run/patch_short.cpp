#include "rig/run/patch_short.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace cvrig::patching {

namespace {

using namespace literals;

constexpr seconds lead = 60_ms;
constexpr seconds note_length = 90_ms;
constexpr seconds note_gap = 40_ms;
constexpr seconds struck_from = 20_ms;
constexpr seconds struck_for = 45_ms;
constexpr seconds step_length = 120_ms;
constexpr seconds listened = 60_ms;
// The delay is known to a few milliseconds: an attack takes its time.
constexpr seconds late_part = -66_ms;

struct struck_pair {
    held_part first, gap, second, gap_after;
};

// Where everything lies in the score.
struct plan {
    held_part lead_in, all_but_gate;
    struck_pair plain, accented;
    held_part lower, stepped, lower_again, slid, upper;
    held_part cutoff_low, cutoff_low_lower, cutoff_high;
    held_part end;
    std::vector<held_part> other_plain, other_high;
};

class composer {
public:
    composer(const bench& b, const module_expectations& m, const cast& who, sample_rate rate)
        : who_{who}, levels_{levels_for(b, m)}, score_{b, rate} {}

    plan write() {
        plan p;
        pitch(levels_.top);
        p.lead_in = score_.hold(lead);
        for (std::size_t i = 0; i < levels_.high.size(); ++i) score_.set(i, levels_.high[i]);
        low(who_.gate);
        pitch(levels_.top);
        p.all_but_gate = score_.hold(80_ms);
        for (const auto o : who_.others) score_.set(o, volts{0.0});
        low(who_.accent);
        p.plain = strikes();
        high(who_.accent);
        p.accented = strikes();
        write_steps(p);
        write_others(p);
        return p;
    }

    score_writer take() { return std::move(score_); }

private:
    void high(std::optional<std::size_t> o) {
        if (o) score_.set(*o, levels_.high[*o]);
    }
    void low(std::optional<std::size_t> o) {
        if (o) score_.set(*o, volts{0.0});
    }
    void pitch(volts v) {
        if (who_.pitch) score_.set(*who_.pitch, v);
    }

    held_part strike() {
        high(who_.gate);
        return score_.hold(note_length);
    }
    held_part rest() {
        low(who_.gate);
        return score_.hold(note_gap);
    }
    struck_pair strikes() {
        struck_pair out;
        out.first = strike();
        out.gap = rest();
        out.second = strike();
        out.gap_after = rest();
        return out;
    }

    void write_steps(plan& p) {
        low(who_.slide);
        pitch(levels_.top_lower);
        high(who_.gate);
        p.lower = score_.hold(step_length);
        pitch(levels_.top);
        p.stepped = score_.hold(step_length);
        pitch(levels_.top_lower);
        p.lower_again = score_.hold(60_ms);
        high(who_.slide);
        score_.hold(20_ms);
        pitch(levels_.top);
        p.slid = score_.hold(180_ms);
        p.upper = score_.hold(80_ms);
        low(who_.cutoff);
        p.cutoff_low = score_.hold(100_ms);
        high(who_.cutoff);
        p.cutoff_high = score_.hold(80_ms);
        low(who_.cutoff);
        pitch(levels_.top_lower);
        score_.hold(20_ms);
        p.cutoff_low_lower = score_.hold(180_ms);
        low(who_.gate);
        score_.rest();
        p.end = score_.hold(60_ms);
    }

    void write_others(plan& p) {
        for (const auto o : who_.others) {
            score_.set(o, volts{0.0});
            p.other_plain.push_back(strike());
            rest();
            score_.set(o, levels_.high[o]);
            p.other_high.push_back(strike());
            rest();
            score_.set(o, volts{0.0});
        }
    }

    const cast& who_;
    safe_levels levels_;
    score_writer score_;
};

class judge {
public:
    judge(const bench& b, const module_expectations& m, const cast& who, const plan& p,
          const ear& heard, short_reading& into)
        : bench_{b}, module_{m}, who_{who}, plan_{p}, heard_{heard}, into_{into} {}

    void run(const safe_levels& levels) {
        const bool gate = judge_gate();
        const bool pitch = judge_pitch(levels);
        const bool accent = judge_accent();
        const bool slide = judge_slide();
        const bool cutoff = judge_cutoff();
        judge_others();
        into_.holds = gate && pitch && accent && slide && cutoff;
        into_.accent_doubtful = gate && pitch && !accent && slide && cutoff;
    }

private:
    bool note(std::size_t output, std::string_view jack, double size, double threshold) {
        into_.effects.push_back(effect_on(bench_, output, jack, size, threshold));
        return into_.effects.back().there;
    }

    // The rhythm of the gate, and silence where all but the gate is high.
    bool judge_gate() {
        double quietest_note = 1e3;
        double loudest_gap = -1e3;
        for (const auto* pair : {&plan_.plain, &plan_.accented}) {
            for (const auto& p : {pair->first, pair->second})
                quietest_note =
                    std::min(quietest_note, heard_.level_db(p, struck_from, struck_for));
            for (const auto& p : {pair->gap, pair->gap_after})
                loudest_gap = std::max(loudest_gap, heard_.level_db(p, -14_ms, 8_ms));
        }
        for (const auto& p : {plan_.lead_in, plan_.all_but_gate, plan_.end})
            loudest_gap = std::max(loudest_gap, heard_.level_db(p, -26_ms, 20_ms));
        return note(*who_.gate, "gate", quietest_note - loudest_gap, thresholds::gate_db);
    }

    std::optional<double> octaves_off(const note_sound& n, volts v) const {
        if (!n.pitch) return std::nullopt;
        return interval(*n.pitch, module_.pitch.pitch(v)).value() / 1200.0;
    }

    // Where the pitch is, whatever the other outputs do, and by how much the pitch output moves it.
    bool judge_pitch(const safe_levels& levels) {
        if (!who_.pitch) return true;
        constexpr double nearby = 0.3;
        double farthest = 0.0;
        const auto look = [&](const note_sound& n, volts v) {
            farthest = std::max(farthest, std::abs(octaves_off(n, v).value_or(9.0)));
        };
        for (const auto& p : {plan_.plain.second, plan_.accented.second})
            look(heard_.note(p, struck_from, struck_for), levels.top);
        const auto lower = heard_.note(plan_.lower, late_part, listened);
        const auto upper = heard_.note(plan_.stepped, late_part, listened);
        look(lower, levels.top_lower);
        look(upper, levels.top);
        const auto closed = heard_.note(plan_.cutoff_low, late_part, listened).pitch;
        const auto open = heard_.note(plan_.cutoff_high, late_part, listened).pitch;
        if (!open || !closed || std::abs(interval(*open, *closed).value()) > 1200.0 * nearby)
            farthest = 9.0;
        if (farthest > nearby) return note(*who_.pitch, "pitch", 0.0, thresholds::pitch_octaves);
        const double wanted = (levels.top - levels.top_lower) / module_.pitch.per_octave;
        const double gain = interval(*upper.pitch, *lower.pitch).value() / 1200.0 / wanted;
        note(*who_.pitch, "pitch", gain, thresholds::pitch_octaves);
        return std::abs(gain - 1.0) <= thresholds::gain_error;
    }

    bool judge_accent() {
        if (!who_.accent) return true;
        const auto plain = heard_.note(plan_.plain.second, struck_from, struck_for);
        const auto accented = heard_.note(plan_.accented.second, struck_from, struck_for);
        const double rise = std::max(accented.level_db - plain.level_db,
                                     accented.brightness_db - plain.brightness_db);
        return note(*who_.accent, "accent", rise, thresholds::accent_db) && rise > 0.0;
    }

    bool judge_slide() {
        if (!who_.slide || !who_.pitch) return true;
        const auto target = heard_.note(plan_.stepped, late_part, listened).pitch;
        if (!target) return false;
        const auto plain = heard_.arrival(plan_.stepped, *target);
        const auto slid = heard_.arrival(plan_.slid, *target);
        const double later = 1e3 * (slid - plain).value();
        return note(*who_.slide, "slide", later, thresholds::slide_ms) && later > 0.0;
    }

    // A large effect, since a second cable into that jack would make it a small one; and another
    // course of the level against pitch where the filter is closed, since a filter that followed
    // the pitch would have the same.
    bool judge_cutoff() {
        if (!who_.cutoff) return true;
        constexpr double large_db = 10.0;
        constexpr double different_db = 4.0;
        const auto before = heard_.note(plan_.upper, late_part, listened);
        const auto low = heard_.note(plan_.cutoff_low, late_part, listened);
        const auto after = heard_.note(plan_.cutoff_high, late_part, listened);
        const double falls =
            std::min(before.brightness_db, after.brightness_db) - low.brightness_db;
        const bool moves = note(*who_.cutoff, "cutoff", falls, large_db) && falls > 0.0;
        if (!who_.pitch) return moves;
        const double open = heard_.level_db(plan_.lower, late_part, listened) -
                            heard_.level_db(plan_.stepped, late_part, listened);
        const double closed =
            heard_.level_db(plan_.cutoff_low_lower, late_part, listened) - low.level_db;
        return moves && closed - open >= different_db;
    }

    void judge_others() {
        for (std::size_t i = 0; i < who_.others.size(); ++i) {
            const auto plain = heard_.note(plan_.other_plain[i], struck_from, struck_for);
            const auto high = heard_.note(plan_.other_high[i], struck_from, struck_for);
            const double change = std::max(std::abs(high.level_db - plain.level_db),
                                           std::abs(high.brightness_db - plain.brightness_db));
            const auto o = who_.others[i];
            if (!note(o, bench_.outputs[o].jack, change, thresholds::change_db))
                into_.unproven.push_back(o);
        }
    }

    const bench& bench_;
    const module_expectations& module_;
    const cast& who_;
    const plan& plan_;
    const ear& heard_;
    short_reading& into_;
};

}  // namespace

short_reading play_short_test(player& to_module, const bench& b, const module_expectations& m,
                              const cast& who, seconds longest_latency) {
    short_reading out;
    composer score{b, m, who, to_module.rate()};
    const auto plan = score.write();
    const auto heard = to_module.play(score.take());
    if (!heard) {
        out.problem = to_module.problem();
        return out;
    }
    const auto loud = compare_inputs(*heard, plan.lead_in.end);
    out.best_input = loud.best;
    out.inputs_sound = loud.sounds;
    if (!loud.sounds[loud.best]) return out;
    const ear plainly{*heard, loud.best, to_module.rate(), 0.0};
    const auto begin = plan.plain.first.begin;
    const auto latest =
        begin + static_cast<std::size_t>(longest_latency.value() * to_module.rate().value());
    const double threshold =
        std::max(loud.loudest_v[loud.best] * 0.03, loud.silence_v[loud.best] * 8.0);
    const auto onset = first_sound(plainly.record(), plan.lead_in.end, threshold, 0, latest);
    if (!onset || *onset < begin) return out;
    out.delay_samples = static_cast<double>(*onset - begin);
    const ear aligned{*heard, loud.best, to_module.rate(), *out.delay_samples};
    judge{b, m, who, plan, aligned, out}.run(levels_for(b, m));
    out.holds = out.holds && std::all_of(loud.sounds.begin(), loud.sounds.end(),
                                         [](bool sounds) { return sounds; });
    return out;
}

}  // namespace cvrig::patching
