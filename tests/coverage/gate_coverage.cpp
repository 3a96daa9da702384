#include <algorithm>
#include <cmath>
#include <numbers>

#include "rig/checks/gate_passages.hpp"
#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_take.hpp"

namespace cvrig::testing {

namespace {

// A gate input that a firmware looks at once a block, fed by a bench whose voltage is a little off.
struct gate_input {
    double up_volts, down_volts, bench_error_volts;
    double block_samples, later_samples, block_phase;
};

double sent_volts(const step& s, double share, double low, double high) {
    const auto held = s.others.find("gate");
    const double to = held != s.others.end() ? held->second.value() : s.gate ? high : low;
    const auto from = s.from.find("gate");
    return from == s.from.end() ? to : from->second.value() + (to - from->second.value()) * share;
}

std::vector<double> gate_course(const passage& asked, std::size_t samples, sample_rate rate) {
    std::vector<double> out(samples, 0.0);
    double at = 0.0;
    for (const auto& s : asked.steps) {
        const auto first = static_cast<std::size_t>(std::llround(at * rate.value()));
        at += s.length.value();
        const auto end =
            std::min(samples, static_cast<std::size_t>(std::llround(at * rate.value())));
        for (std::size_t i = first; i < end; ++i)
            out[i] = sent_volts(
                s, static_cast<double>(i - first + 1) / static_cast<double>(end - first), 0.0, 5.0);
    }
    return out;
}

std::vector<double> play(const gate_input& g, const passage& asked, std::size_t samples,
                         sample_rate rate, double pitch_hz, double phase) {
    const auto sent = gate_course(asked, samples, rate);
    std::vector<double> out(samples, 0.0);
    bool high = false;
    bool on = false;
    double next_look = g.block_phase;
    double change_at = INFINITY;
    double level = 0.0;
    for (std::size_t i = 0; i < samples; ++i) {
        const auto now = static_cast<double>(i);
        if (now >= next_look) {
            next_look += g.block_samples;
            const double volts = sent[i] + g.bench_error_volts;
            const bool is = volts > (high ? g.down_volts : g.up_volts);
            if (is != high) change_at = now + g.later_samples;
            high = is;
        }
        if (now >= change_at) {
            on = high;
            change_at = INFINITY;
        }
        level = on ? std::min(1.0, level + 1.0 / 144.0)
                   : level * std::exp(-1.0 / (0.008 * rate.value()));
        phase += pitch_hz / rate.value();
        phase -= std::floor(phase);
        if (level < 1e-6) continue;
        for (int k = 1; k <= 6; ++k)
            out[i] += level * 2.0 / k * std::sin(2.0 * std::numbers::pi * k * phase);
    }
    return out;
}

std::optional<trial> simulate(const std::string& key, std::uint64_t seed) {
    simulated_desk desk{"gate", {key}, seed};
    const double up = desk.uniform(1.0, 2.5);
    const double hysteresis = desk.uniform(0.1, 0.5);
    const gate_input g{.up_volts = up,
                       .down_volts = up - hysteresis,
                       .bench_error_volts = desk.normal(desk.desk.outputs[1].u.value()),
                       .block_samples = desk.uniform(16.0, 48.0),
                       .later_samples = desk.uniform(20.0, 60.0),
                       .block_phase = desk.uniform(0.0, 48.0)};
    const double phase = desk.uniform(0.0, 1.0);
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            const double hz = desk.module.pitch.pitch(asked.steps.front().pitch).value();
            const auto one = play(g, asked, samples, rate, hz, phase);
            return std::vector<std::vector<double>>{one, one};
        },
        2e-3);
    const auto* found = result.find(key);
    if (found == nullptr || !found->measured) return std::nullopt;
    const double truth = key == "hysteresis"     ? hysteresis
                         : key == "threshold up" ? up
                                                 : up - hysteresis;
    return trial_of(truth, *found->measured);
}

}  // namespace

// Counts ("slow edge strikes", "fast gates missed") have no uncertainty. "shortest trigger" is
// given as an interval of Clopper and Pearson between widths that were tried, which holds the truth
// more often than it says, not 95 times of 100 (tests/analysis/spread_test.cpp).
std::vector<covered_quantity> gate_coverage() {
    std::vector<covered_quantity> out;
    for (const std::string key : {"threshold up", "threshold down", "hysteresis"})
        out.push_back({"gate", key, [key](std::uint64_t seed) { return simulate(key, seed); }});
    return out;
}

}  // namespace cvrig::testing
