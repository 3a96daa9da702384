#include <cmath>
#include <numbers>

#include "rig/checks/held_note.hpp"
#include "rig/checks/listening.hpp"
#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_take.hpp"

namespace cvrig::testing {

namespace {

// A sine of known level about a known DC, heard through an input whose gain is off by what the
// bench file states.
std::optional<trial> simulate(const std::string& key, std::uint64_t seed) {
    simulated_desk desk{"level", {key}, seed};
    const double amplitude = desk.uniform(0.5, 4.0);
    const double dc = desk.uniform(-0.05, 0.05);
    const double phase = desk.uniform(0.0, 2.0 * std::numbers::pi);
    const double detuned = std::exp2(desk.normal(2.0) / 1200.0);
    const check_request request{desk.module, desk.desk, desk.module.checks.front(), {}, 1};
    const double gain = std::pow(10.0, desk.normal(gain_uncertainty(request, 0).value()) / 20.0);
    const double pitch = held_pitch(request).value() * detuned;
    const auto result = desk.judge(
        [&](const passage&, std::size_t samples, sample_rate rate) {
            std::vector<double> one(samples);
            for (std::size_t i = 0; i < samples; ++i) {
                const double t = static_cast<double>(i) / rate.value();
                one[i] =
                    gain * (dc + amplitude * std::sin(2.0 * std::numbers::pi * pitch * t + phase));
            }
            return std::vector<std::vector<double>>{one, one};
        },
        1e-3);
    const auto* found = result.find(key);
    if (found == nullptr || found->all.empty()) return std::nullopt;
    const auto& r = found->all.front();
    const double truth = key == "level"
                             ? 20.0 * std::log10(amplitude / std::sqrt(2.0) / std::sqrt(0.6))
                         : key == "peak" ? std::abs(dc) + amplitude
                                         : dc;
    return trial_of(truth, r);
}

}  // namespace

std::vector<covered_quantity> level_coverage() {
    std::vector<covered_quantity> out;
    for (const std::string key : {"level", "peak", "dc offset"})
        out.push_back({"level", key, [key](std::uint64_t seed) { return simulate(key, seed); }});
    return out;
}

}  // namespace cvrig::testing
