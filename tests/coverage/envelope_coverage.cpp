#include <cmath>

#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_voice.hpp"

namespace cvrig::testing {

namespace {

struct envelope_truth {
    double attack_s, decay_s, release_s, filter_tau_s;
};

constexpr std::size_t harmonics = 24;

double truth_of(const std::string& key, const envelope_truth& t) {
    if (key == "attack") return 0.8 * t.attack_s;  // 10 to 90 % of a straight ramp
    if (key == "decay") return t.decay_s;
    if (key == "sustain") return -20.0 / std::log(10.0) * 0.6 / t.decay_s;  // 0.65 s against 0.05 s
    if (key == "release") return t.release_s;
    if (key == "filter decay") return t.filter_tau_s;
    return 0.0;  // gate length, strike again
}

std::optional<trial> simulate(const std::string& key, std::uint64_t seed) {
    simulated_desk desk{"envelope", {key}, seed};
    const envelope_truth truth{.attack_s = desk.uniform(0.002, 0.006),
                               .decay_s = desk.uniform(1.5, 4.0),
                               .release_s = desk.uniform(0.006, 0.010),
                               .filter_tau_s = desk.uniform(0.10, 0.20)};
    simulated_voice voice;
    voice.harmonics = harmonics;
    voice.attack_s = truth.attack_s;
    voice.decay_s = truth.decay_s;
    voice.release_s = truth.release_s;
    voice.pitch = [&](const step& s, std::size_t) { return desk.module.pitch.pitch(s.pitch); };
    // The filter closes while the note is read, as it does on every bass voice: by octaves of its
    // cutoff, from wide open for most readings.
    const double pitch_hz = desk.module.pitch.pitch(volts{1.0}).value();
    const double resting_hz =
        pitch_hz * desk.uniform(2.5, 5.0) * (key == "filter decay" ? 1.0 : 4.0);
    const double octaves = desk.uniform(1.5, 3.0);
    voice.feedback = desk.uniform(0.0, 1.0);
    // No wave is an exact sawtooth: its harmonics are off by what the measurement takes them to be.
    for (std::size_t k = 0; k < harmonics; ++k) voice.harmonics_off.push_back(desk.normal(0.002));
    voice.filter_runs = desk.uniform(0.0, 1.0) < 0.5 ? 1 : 2;
    voice.cutoff = [&](const step&, double since_s) {
        return hertz{resting_hz * std::exp2(octaves * std::exp(-since_s / truth.filter_tau_s))};
    };
    const auto result = desk.judge(
        [&](const passage& p, std::size_t samples, sample_rate rate) {
            voice.start_phase_cycles = desk.uniform(0.0, 1.0);
            return voice.sound(p, samples, rate);
        },
        1e-3);
    const auto* found = result.find(key);
    if (found == nullptr || found->all.empty()) return std::nullopt;
    const auto& r = found->all[seed % found->all.size()];
    return trial_of(truth_of(key, truth), r);
}

}  // namespace

std::vector<covered_quantity> envelope_coverage() {
    std::vector<covered_quantity> out;
    for (const std::string key :
         {"attack", "decay", "sustain", "filter decay", "release", "gate length"})
        out.push_back({"envelope", key, [key](std::uint64_t seed) { return simulate(key, seed); }});
    return out;
}

}  // namespace cvrig::testing
