#include <cmath>

#include "rig/checks/listening.hpp"
#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_voice.hpp"

namespace cvrig::testing {

namespace {

struct slide_truth {
    double tau_s, step_tau_s, short_cents, overshoot_cents, lag_s;
};

// The slide turns round at the overshoot, and a pole that follows makes the top round and lower: its
// response to 2 - exp(-t / tau) before that moment and exp(-t / tau) after it.
double highest_cents(const slide_truth& t) {
    if (!(t.lag_s > 0.0)) return t.overshoot_cents;
    const double slower = 1.0 / (1.0 - t.lag_s / t.tau_s);
    const double at_s = std::log(2.0) / (1.0 / t.lag_s - 1.0 / t.tau_s);
    return t.overshoot_cents *
           (slower * std::exp(-at_s / t.tau_s) + 2.0 * (1.0 - slower) * std::exp(-at_s / t.lag_s));
}

double truth_of(const std::string& key, const slide_truth& t, const reading& r) {
    if (key == "rise time") return std::log(9.0) * t.tau_s;
    if (key == "without slide") return t.step_tau_s;
    if (key == "arrival") {
        // What is left of the slide itself when its step ends, after 6.5 of the nominal 22 ms and
        // 90 ms.
        const double octaves = r.where.value_or(1.0);
        const double left = 1200.0 * std::abs(octaves) * std::exp(-0.233 / t.tau_s);
        return octaves > 0.0 ? -t.short_cents - left : t.short_cents + left;
    }
    if (key == "overshoot") return highest_cents(t);
    if (key == "time constant") return t.tau_s;
    return 0.0;  // interrupted
}

std::optional<trial> simulate(const std::string& key, std::uint64_t seed) {
    simulated_desk desk{"slide", {key}, seed};
    limit time;
    time.nominal = 0.022;
    time.lower = 0.0198;
    time.upper = 0.0242;
    desk.set("time constant", time);
    desk.set("steps",
             std::vector<voltage_step>{{volts{0.5}, volts{1.5}}, {volts{2.0}, volts{1.0}}});
    const slide_truth truth{desk.uniform(0.020, 0.024), desk.uniform(0.001, 0.006),
                            key == "arrival" ? desk.uniform(-2.0, 3.0) : 0.0,
                            key == "overshoot" ? desk.uniform(3.0, 15.0) : 0.0,
                            key == "overshoot" ? std::max(0.0, desk.uniform(-0.012, 0.012)) : 0.0};
    const double clock = 1.0 + desk.normal(desk.desk.u_clock_ppm * 1e-6);
    const auto bench = draw_pitch_error(desk);
    simulated_voice voice;
    voice.start_phase_cycles = desk.uniform(0.0, 1.0);
    voice.slide_tau_s = truth.tau_s / clock;
    voice.step_tau_s = truth.step_tau_s / clock;
    voice.overshoot_cents = truth.overshoot_cents;
    voice.pitch_lag_s = truth.lag_s;
    voice.stops_short_cents = truth.short_cents;
    // The plain note that a slide's end is held against is another strike.
    voice.pitch = [&](const step& s, std::size_t index) {
        const double strike_cents = index == 4 ? desk.normal(strike_repeatability().value()) : 0.0;
        return raised(desk.module.pitch.pitch(s.pitch + volts{bench.at(s.pitch.value())}),
                      cents{strike_cents}) *
               clock;
    };
    const auto result = desk.judge(
        [&](const passage& p, std::size_t samples, sample_rate rate) {
            voice.step_late_samples.clear();
            for (std::size_t i = 0; i < p.steps.size(); ++i)
                voice.step_late_samples.push_back(desk.uniform(0.0, 1.0));
            return voice.sound(p, samples, rate);
        },
        1e-3);
    const auto* found = result.find(key);
    if (found == nullptr || found->all.empty()) return std::nullopt;
    const auto& r = found->all[seed % found->all.size()];
    return trial_of(truth_of(key, truth, r), r);
}

}  // namespace

std::vector<covered_quantity> slide_coverage() {
    std::vector<covered_quantity> out;
    for (const std::string key :
         {"time constant", "rise time", "arrival", "interrupted", "without slide", "overshoot"})
        out.push_back({"slide", key, [key](std::uint64_t seed) { return simulate(key, seed); }});
    return out;
}

}  // namespace cvrig::testing
