#include <algorithm>
#include <cmath>
#include <numbers>

#include "rig/checks/latency_passages.hpp"
#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_take.hpp"

namespace cvrig::testing {

namespace {

// What a firmware does that looks at its jacks once a block: it strikes at the end of the block in
// which the gate rose, some blocks later, and its oscillator runs on meanwhile.
struct firmware {
    double block_samples, later_samples, attack_samples, phase, block_phase;
    /// By how much a filter that opens turns the phase at the start of a note; it dies away.
    double turned_cycles{0.0};
};

// How long a filter takes to open, and how far it turns the fundamental's phase as a rule: what the
// check states of both.
constexpr double turn_dies_s = 0.002, usual_turn_cycles = 0.03;

struct voice_sound {
    std::vector<double> volts;
    std::vector<double> delays_samples;
};

double next_look(const firmware& f, double sample) {
    return (std::floor((sample - f.block_phase) / f.block_samples) + 1.0) * f.block_samples +
           f.block_phase;
}

voice_sound play(const firmware& f, const passage& asked, std::size_t samples, sample_rate rate,
                 const pitch_law& law) {
    voice_sound out{std::vector<double>(samples), {}};
    struct event {
        double at, value;
    };
    std::vector<event> gates;
    std::vector<event> pitches;
    double at = 0.0;
    bool high = false;
    for (const auto& s : asked.steps) {
        const auto edge = static_cast<double>(std::llround(at * rate.value()));
        if (s.gate != high) {
            const double sounds = next_look(f, edge) + f.later_samples;
            gates.push_back({sounds, s.gate ? 1.0 : 0.0});
            if (s.gate) out.delays_samples.push_back(sounds - edge);
            high = s.gate;
        }
        pitches.push_back({edge + f.block_samples + f.later_samples, law.pitch(s.pitch).value()});
        at += s.length.value();
    }
    double phase = f.phase;
    double level = 0.0;
    std::size_t g = 0;
    std::size_t p = 0;
    double struck_at = -1e9;
    bool on = false;
    double hz = law.pitch(asked.steps.front().pitch).value();
    for (std::size_t i = 0; i < samples; ++i) {
        const auto now = static_cast<double>(i);
        while (g < gates.size() && now >= gates[g].at) {
            on = gates[g].value > 0.5;
            if (on) struck_at = gates[g].at;
            ++g;
        }
        while (p < pitches.size() && now >= pitches[p].at) hz = pitches[p++].value;
        level = on ? std::clamp((now - struck_at) / f.attack_samples, 0.0, 1.0)
                   : level * std::exp(-1.0 / (0.006 * rate.value()));
        phase += hz / rate.value();
        phase -= std::floor(phase);
        if (level < 1e-6) continue;
        const double turned =
            phase - f.turned_cycles * std::exp((struck_at - now) / (turn_dies_s * rate.value()));
        for (int k = 1; k <= 6; ++k)
            out.volts[i] += level * 2.0 / k * std::sin(2.0 * std::numbers::pi * k * turned);
    }
    return out;
}

std::optional<trial> simulate(const std::string& key, std::uint64_t seed) {
    simulated_desk desk{"latency", {key}, seed};
    const firmware f{.block_samples = desk.uniform(16.0, 64.0),
                     .later_samples = desk.uniform(20.0, 60.0),
                     .attack_samples = desk.uniform(48.0, 240.0),
                     .phase = desk.uniform(0.0, 1.0),
                     .block_phase = desk.uniform(0.0, 64.0),
                     .turned_cycles = key == "pitch lead" ? desk.normal(usual_turn_cycles) : 0.0};
    std::vector<double> delays;
    const auto law = desk.module.pitch;
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            auto sound = play(f, asked, samples, rate, law);
            delays = sound.delays_samples;
            return std::vector<std::vector<double>>{sound.volts, sound.volts};
        },
        2e-3);
    const auto* found = result.find(key);
    if (found == nullptr || !found->measured) return std::nullopt;
    const double fs = desk.desk.rate().value();
    // A pitch is in use one block and as much later as a gate is, whose delay may be nothing but that.
    if (key == "pitch lead") return trial_of(f.block_samples / fs, *found->measured);
    if (delays.empty()) return std::nullopt;
    delays.erase(delays.begin());  // which only wakes the module up
    const auto [least, most] = std::ranges::minmax_element(delays);
    // Each gate's own delay is known; the mean and the block are those of the firmware.
    if (key == "worst") return trial_of(delays.front() / fs, found->all.front());
    const double truth = key == "delay"    ? f.later_samples + 0.5 * f.block_samples
                         : key == "jitter" ? f.block_samples / std::sqrt(12.0)
                         : key == "block"  ? f.block_samples
                                           : *most - *least;
    return trial_of(truth / fs, *found->measured);
}

}  // namespace

std::vector<covered_quantity> latency_coverage() {
    std::vector<covered_quantity> out;
    for (const std::string key :
         {"delay", "jitter", "peak to peak", "worst", "block", "pitch lead"})
        out.push_back({"latency", key, [key](std::uint64_t seed) { return simulate(key, seed); }});
    return out;
}

}  // namespace cvrig::testing
