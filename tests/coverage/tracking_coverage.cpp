#include <cmath>
#include <map>
#include <string>

#include "rig/checks/listening.hpp"
#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_voice.hpp"

namespace cvrig::testing {

namespace {

// What the module does wrong, exactly; the bench adds its own.
struct stair_truth {
    double offset_cents, cents_per_volt, bow_cents, lag_cents, drift_cents_per_s;

    [[nodiscard]] double error(double v, bool up, double at_s) const {
        return offset_cents + cents_per_volt * v + bow_cents * std::sin(v) +
               (up ? -0.5 : 0.5) * lag_cents + drift_cents_per_s * at_s;
    }
};

constexpr int notes_up = 13;  // every 4 semitones from 0 V to 4 V

struct simulated_stair {
    simulated_desk desk;
    stair_truth truth;
    check_result result;
};

simulated_stair play(const std::string& key, std::uint64_t seed) {
    simulated_stair s{simulated_desk{"tracking", {key}, seed}, {}, {}};
    auto& d = s.desk;
    d.set("notes",
          note_stair{volts{0.0}, volts{4.0}, volts{1.0 / 3.0}, note_stair::direction::up_and_down});
    const bool slow = key == "drift" || key == "hysteresis";
    s.truth = {.offset_cents = d.uniform(-6.0, 6.0),
               .cents_per_volt = d.uniform(-2.0, 2.0),
               .bow_cents = key == "straightness" ? d.uniform(-2.0, 2.0) : 0.0,
               .lag_cents = slow ? d.uniform(0.2, 2.0) : 0.0,
               .drift_cents_per_s = slow ? d.uniform(-0.5, 0.5) : 0.0};
    const auto line = draw_pitch_error(d);
    // A bench states one uncertainty for its errors at each voltage: what a straightness is exposed to is
    // that part which is no straight line; and half way between two ends that are off by chance, a
    // line would be off by less.
    std::map<double, double> bent;
    const auto bench_error = [&](double v) {
        if (key != "straightness" && key != "error") return line.at(v);
        const auto found = bent.find(v);
        if (found != bent.end()) return found->second;
        return bent.emplace(v, draw_pitch_error(d).at_bottom_volts).first->second;
    };
    const double clock = 1.0 + d.normal(d.desk.u_clock_ppm * 1e-6);
    // Two strikes differ by what the rig's own budget says that they do.
    const double u_strike = strike_repeatability().value() / std::sqrt(2.0);
    simulated_voice voice;
    voice.start_phase_cycles = d.uniform(0.0, 1.0);
    // The filter's envelope makes beginnings differ by as much as the budget says.
    if (key == "settling") voice.begins_off = [&] { return cents{d.normal(0.3)}; };
    s.result = d.judge(
        [&](const passage& p, std::size_t samples, sample_rate rate) {
            seconds at{0.0};
            voice.pitch = [&](const step& one, std::size_t index) {
                const double v = one.pitch.value();
                const bool up = index / 2 < notes_up;
                const double error = s.truth.error(v, up, at.value());
                if (index < p.steps.size()) at += one.length;
                return raised(d.module.pitch.pitch(one.pitch + volts{bench_error(v)}),
                              cents{error + d.normal(u_strike)}) *
                       clock;
            };
            return voice.sound(p, samples, rate);
        },
        1e-3);
    return s;
}

// The best line through the true errors at the demanded voltages.
struct true_line {
    double at_reference, cents_per_volt;
};

true_line line_of(const stair_truth& t) {
    double sx = 0, sy = 0, sxx = 0, sxy = 0;
    for (int i = 0; i < notes_up; ++i) {
        const double v = i / 3.0, e = t.error(v, true, 0.0);
        sx += v, sy += e, sxx += v * v, sxy += v * e;
    }
    const double n = notes_up;
    const double slope = (n * sxy - sx * sy) / (n * sxx - sx * sx);
    return {(sy - slope * sx) / n, slope};
}

double truth_of(const std::string& key, const stair_truth& t, const reading& r) {
    const auto line = line_of(t);
    if (key == "scale") return line.cents_per_volt / 12.0;
    if (key == "offset") return line.at_reference;
    const double v = r.where.value_or(0.0);
    if (key == "error") return t.error(v, r.at.ends_with("up"), 0.0);
    if (key == "straightness")
        return t.error(v, true, 0.0) - line.at_reference - line.cents_per_volt * v;
    if (key == "settling") return 0.0;
    if (key == "drift") return t.drift_cents_per_s * v;  // there, the length of the stair
    return t.lag_cents;
}

std::optional<trial> simulate(const std::string& key, std::uint64_t seed) {
    auto s = play(key, seed);
    const auto* found = s.result.find(key);
    if (found == nullptr || found->all.empty()) return std::nullopt;
    const auto& r = found->all[seed % found->all.size()];
    return trial_of(truth_of(key, s.truth, r), r);
}

}  // namespace

std::vector<covered_quantity> tracking_coverage() {
    std::vector<covered_quantity> out;
    for (const std::string key :
         {"error", "scale", "offset", "straightness", "hysteresis", "settling", "drift"})
        out.push_back({"tracking", key, [key](std::uint64_t seed) { return simulate(key, seed); }});
    return out;
}

}  // namespace cvrig::testing
