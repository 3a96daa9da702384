#include <cmath>

#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_voice.hpp"

namespace cvrig::testing {

namespace {

struct accent_truth {
    double rise_db, next_db, build_up_db, fall_back_db;
    double plain_hz, accented_hz, brightness_rise;
    double plain_tau_s, accented_tau_s;
};

constexpr std::size_t harmonics = 12;

// Steps 1, 3 and 5 are the three notes; 1 to 7 and 9 the run of accents.
double louder_db(const accent_truth& t, const passage& p, const step& s, std::size_t index) {
    if (p.steps.size() <= 6) return index == 5 ? t.next_db : s.accent ? t.rise_db : 0.0;
    if (index == 9) return t.rise_db + t.fall_back_db;
    return t.rise_db + t.build_up_db * static_cast<double>(index / 2) / 3.0;
}

// Cutoff as the key wants it: steady for what compares levels, closing for what reads a decay.
hertz cutoff(const accent_truth& t, const std::string& key, const step& s, double since_s) {
    const double open = s.accent ? t.accented_hz : t.plain_hz;
    if (key != "decay ratio") return hertz{open};
    const double tau = s.accent ? t.accented_tau_s : t.plain_tau_s;
    return hertz{open * std::exp2(1.5 * (std::exp(-since_s / tau) - 1.0))};
}

double truth_of(const std::string& key, const accent_truth& t) {
    if (key == "level rise") return t.rise_db;
    if (key == "next note") return t.next_db;
    if (key == "build-up") return t.build_up_db;
    if (key == "fall back") return t.fall_back_db;
    if (key == "brightness rise") return t.brightness_rise;
    return t.accented_tau_s / t.plain_tau_s;
}

std::optional<trial> simulate(const std::string& key, std::uint64_t seed) {
    simulated_desk desk{"accent", {key}, seed};
    const double pitch_hz = desk.module.pitch.pitch(volts{1.0}).value();
    accent_truth truth{.rise_db = desk.uniform(2.0, 6.0),
                       .next_db = desk.uniform(-0.4, 0.4),
                       .build_up_db = desk.uniform(0.3, 2.0),
                       .fall_back_db = desk.uniform(-0.3, 0.3),
                       .plain_hz = pitch_hz * desk.uniform(4.0, 8.0),
                       .accented_hz = 0.0,
                       .brightness_rise = 0.0,
                       .plain_tau_s = desk.uniform(0.15, 0.25),
                       .accented_tau_s = desk.uniform(0.08, 0.15)};
    truth.accented_hz = truth.plain_hz * desk.uniform(1.2, 2.0);
    const bool by_level = key != "brightness rise" && key != "decay ratio";
    simulated_voice voice;
    voice.harmonics = harmonics;
    voice.decay_s = desk.uniform(1.0, 4.0);
    voice.pitch = [&](const step& s, std::size_t) { return desk.module.pitch.pitch(s.pitch); };
    voice.feedback = desk.uniform(0.0, 1.0);
    voice.filter_runs = desk.uniform(0.0, 1.0) < 0.5 ? 1 : 2;
    if (!by_level)
        voice.cutoff = [&](const step& s, double since_s) {
            return cutoff(truth, key, s, since_s);
        };
    truth.brightness_rise = centroid_through(voice, hertz{pitch_hz}, hertz{truth.accented_hz}) /
                            centroid_through(voice, hertz{pitch_hz}, hertz{truth.plain_hz});
    const auto result = desk.judge(
        [&](const passage& p, std::size_t samples, sample_rate rate) {
            voice.start_phase_cycles = desk.uniform(0.0, 1.0);
            voice.louder_db = [&](const step& s, std::size_t index) {
                return louder_db(truth, p, s, index);
            };
            return voice.sound(p, samples, rate);
        },
        2e-3);
    const auto* found = result.find(key);
    if (found == nullptr || found->all.empty()) return std::nullopt;
    const auto& r = found->all.front();
    return trial_of(truth_of(key, truth), r);
}

}  // namespace

std::vector<covered_quantity> accent_coverage() {
    std::vector<covered_quantity> out;
    for (const std::string key :
         {"level rise", "brightness rise", "decay ratio", "next note", "build-up", "fall back"})
        out.push_back({"accent", key, [key](std::uint64_t seed) { return simulate(key, seed); }});
    return out;
}

}  // namespace cvrig::testing
