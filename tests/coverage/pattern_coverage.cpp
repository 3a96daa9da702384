#include <cmath>
#include <numbers>

#include "rig/checks/listening.hpp"
#include "rig/checks/pattern_steps.hpp"
#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_take.hpp"

namespace cvrig::testing {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double steps = 24.0;

// A short line on a module of twelve harmonics of 1 / k whose every note is off by the same few
// cents; each strike falls anywhere in the oscillator's period, and the bench's pitch voltage and
// clock are off by what the bench file states.
std::optional<trial> simulate(std::uint64_t seed) {
    simulated_desk desk{"pattern", {"pitch"}, seed};
    desk.set("steps", measure{steps, dimension::count});
    desk.set("seed", measure{static_cast<double>(seed % 1000), dimension::count});
    desk.set("slide share", measure{0.0, dimension::percent});
    const check_request request{desk.module, desk.desk, desk.module.checks.front(), {}, 1};
    const double true_cents = desk.normal(5.0);
    const double bench_cents = desk.normal(bench_pitch_uncertainty(request).value()) +
                               desk.normal(clock_pitch_uncertainty(request).value());
    const double off = std::exp2((true_cents + bench_cents) / 1200.0);
    double phase = desk.uniform(0.0, 1.0);
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            std::vector<double> one;
            one.reserve(samples);
            double level = 0.0;
            seconds ends{0.0};
            for (const auto& s : asked.steps) {
                ends += s.length;
                const auto end =
                    static_cast<std::size_t>(std::llround(ends.value() * rate.value()));
                const double step = off * desk.module.pitch.pitch(s.pitch).value() / rate.value();
                const double attack = 1.0 / (0.003 * rate.value());
                const double release = std::exp(-1.0 / (0.008 * rate.value()));
                while (one.size() < end) {
                    level = s.gate ? std::min(1.0, level + attack) : level * release;
                    phase += step;
                    double sum = 0.0;
                    for (int k = 1; k <= 12; ++k) sum += std::sin(two_pi * k * phase) / k;
                    one.push_back(level * sum);
                }
            }
            one.resize(samples);
            return std::vector<std::vector<double>>{one, one};
        },
        1e-3);
    const auto* found = result.find("pitch");
    if (found == nullptr || found->all.empty()) return std::nullopt;
    // Any one step of it, since the bench's error is the same in all.
    const auto& r = found->all[seed % found->all.size()];
    return trial{true_cents, r.value, r.standard_uncertainty};
}

}  // namespace

std::vector<covered_quantity> pattern_coverage() {
    return {{"pattern", "pitch", simulate}};
}

}  // namespace cvrig::testing
