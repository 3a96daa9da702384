#include <algorithm>
#include <cmath>
#include <numbers>

#include "rig/checks/listening.hpp"
#include "rig/checks/pattern_steps.hpp"
#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_take.hpp"

namespace cvrig::testing {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;

/// A module of twelve harmonics of 1 / k whose every note is off by the same few cents; each strike
/// falls anywhere in the oscillator's period. A step with the slide on takes its pitch like a
/// capacitor that is charged through a resistor, a little later than it is told.
struct line_voice {
    pitch_law law;
    double off{1.0};  ///< ratio of every pitch, bench errors included
    double start_cycles{0.0};
    double slide_tau_s{0.022};
    double late_s{0.0};
    std::function<double(const step&)> level_db{};  ///< of a struck step; empty: 0

    [[nodiscard]] std::vector<double> sound(const passage& asked, std::size_t samples,
                                            sample_rate rate) const {
        std::vector<double> out;
        out.reserve(samples);
        double phase = start_cycles, level = 0.0, gain = 1.0,
               pitch_v = asked.steps[0].pitch.value();
        const double attack = 1.0 / (0.003 * rate.value());
        const double release = std::exp(-1.0 / (0.008 * rate.value()));
        const double kept = std::exp(-1.0 / (slide_tau_s * rate.value()));
        const auto late = static_cast<std::size_t>(std::llround(late_s * rate.value()));
        seconds ends{0.0};
        bool was_high = false, slides = false;
        double goal_v = pitch_v;
        for (const auto& s : asked.steps) {
            const auto begin = out.size();
            ends += s.length;
            const auto end = static_cast<std::size_t>(std::llround(ends.value() * rate.value()));
            if (s.gate && !was_high && level_db) gain = std::pow(10.0, level_db(s) / 20.0);
            was_high = s.gate;
            while (out.size() < end) {
                if (out.size() >= begin + late) {
                    goal_v = s.pitch.value();
                    slides = s.slide;
                }
                pitch_v = slides ? goal_v + (pitch_v - goal_v) * kept : goal_v;
                level = s.gate ? std::min(1.0, level + attack) : level * release;
                phase += off * law.pitch(volts{pitch_v}).value() / rate.value();
                out.push_back(gain * level * saw(phase));
            }
        }
        out.resize(samples);
        return out;
    }

private:
    // Sum of sin(k x) / k, each from the two before it.
    static double saw(double cycles) {
        const double x = two_pi * (cycles - std::floor(cycles));
        const double twice_cos = 2.0 * std::cos(x);
        double before = 0.0, now = std::sin(x), sum = now;
        for (int k = 2; k <= 12; ++k) {
            const double next = twice_cos * now - before;
            before = std::exchange(now, next);
            sum += now / k;
        }
        return sum;
    }
};

// The bench's pitch voltage and clock are off by what the bench file states.
double bench_cents(simulated_desk& desk) {
    const check_request request{desk.module, desk.desk, desk.module.checks.front(), {}, 1};
    return desk.normal(bench_pitch_uncertainty(request).value()) +
           desk.normal(clock_pitch_uncertainty(request).value());
}

std::optional<reading> any_of(simulated_desk& desk, const line_voice& voice, const std::string& key,
                              std::uint64_t seed) {
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            const auto one = voice.sound(asked, samples, rate);
            return std::vector<std::vector<double>>{one, one};
        },
        1e-3);
    const auto* found = result.find(key);
    if (found == nullptr || found->all.empty()) return std::nullopt;
    // Any one step of it, since the bench's error is the same in all.
    return found->all[seed % found->all.size()];
}

simulated_desk line_desk(const std::string& key, double steps, std::uint64_t seed) {
    simulated_desk desk{"pattern", {key}, seed};
    desk.set("steps", measure{steps, dimension::count});
    desk.set("seed", measure{static_cast<double>(seed % 1000), dimension::count});
    return desk;
}

std::optional<trial> simulate_pitch(std::uint64_t seed) {
    auto desk = line_desk("pitch", 24.0, seed);
    desk.set("slide share", measure{0.0, dimension::percent});
    const double true_cents = desk.normal(5.0);
    const line_voice voice{.law = desk.module.pitch,
                           .off = std::exp2((true_cents + bench_cents(desk)) / 1200.0),
                           .start_cycles = desk.uniform(0.0, 1.0)};
    const auto r = any_of(desk, voice, "pitch", seed);
    if (!r) return std::nullopt;
    return trial_of(true_cents, *r);
}

// The slide's time constant is a few per cent off what the file declares, and the module late by a
// block or two: both are taken out before a step is judged.
std::optional<trial> simulate_slid_pitch(std::uint64_t seed) {
    auto desk = line_desk("slid pitch", 48.0, seed);
    desk.set("slide share", measure{30.0, dimension::percent});
    const double true_cents = desk.normal(5.0);
    const line_voice voice{.law = desk.module.pitch,
                           .off = std::exp2((true_cents + bench_cents(desk)) / 1200.0),
                           .start_cycles = desk.uniform(0.0, 1.0),
                           .slide_tau_s = 0.022 * (1.0 + desk.normal(0.03)),
                           .late_s = desk.uniform(0.0005, 0.0015)};
    const auto r = any_of(desk, voice, "slid pitch", seed);
    if (!r) return std::nullopt;
    return trial_of(true_cents, *r);
}

// Strikes of a module differ a little in level; an accent is louder than the mean of plain ones.
std::optional<trial> simulate_accent(std::uint64_t seed) {
    auto desk = line_desk("accent", 64.0, seed);
    for (const char* share : {"slide share", "tie share"})
        desk.set(share, measure{0.0, dimension::percent});
    const double rise_db = desk.uniform(2.5, 6.0);
    const double scatter_db = desk.uniform(0.15, 0.5);
    const line_voice voice{.law = desk.module.pitch,
                           .off = std::exp2(bench_cents(desk) / 1200.0),
                           .start_cycles = desk.uniform(0.0, 1.0),
                           .level_db = [&](const step& s) {
                               return desk.normal(scatter_db) + (s.accent ? rise_db : 0.0);
                           }};
    const auto r = any_of(desk, voice, "accent", seed);
    if (!r) return std::nullopt;
    return trial_of(rise_db, *r);
}

}  // namespace

std::vector<covered_quantity> pattern_coverage() {
    return {{"pattern", "pitch", simulate_pitch},
            {"pattern", "slid pitch", simulate_slid_pitch},
            {"pattern", "accent", simulate_accent}};
}

}  // namespace cvrig::testing
