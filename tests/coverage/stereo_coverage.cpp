#include <cmath>

#include "rig/checks/listening.hpp"
#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_voice.hpp"

namespace cvrig::testing {

namespace {

std::optional<trial> simulate(const std::string& key, std::uint64_t seed) {
    simulated_desk desk{"stereo", {key}, seed};
    const double gain_db = desk.uniform(-0.5, 0.5);
    const double late_s = desk.uniform(-30e-6, 30e-6);
    const check_request request{desk.module, desk.desk, desk.module.checks.front(), {}, 1};
    simulated_voice voice;
    voice.pitch = [&](const step& s, std::size_t) { return desk.module.pitch.pitch(s.pitch); };
    voice.gains = {std::pow(10.0, desk.normal(gain_uncertainty(request, 0).value()) / 20.0)};
    auto right = voice;
    right.gains = {
        std::pow(10.0, (gain_db + desk.normal(gain_uncertainty(request, 1).value())) / 20.0)};
    // A later sound is the same sound at an earlier phase.
    const double phase = desk.uniform(0.0, 1.0);
    const double pitch_hz = desk.module.pitch.pitch(volts{1.0}).value();
    voice.start_phase_cycles = phase;
    right.start_phase_cycles = phase - late_s * pitch_hz;
    const auto result = desk.judge(
        [&](const passage& p, std::size_t samples, sample_rate rate) {
            return std::vector{voice.sound(p, samples, rate).front(),
                               right.sound(p, samples, rate).front()};
        },
        1e-3);
    const auto* found = result.find(key);
    if (found == nullptr || found->all.empty()) return std::nullopt;
    const auto& r = found->all.front();
    return trial_of(key == "delay" ? late_s : gain_db, r);
}

}  // namespace

std::vector<covered_quantity> stereo_coverage() {
    std::vector<covered_quantity> out;
    for (const std::string key : {"gain difference", "delay"})
        out.push_back({"stereo", key, [key](std::uint64_t seed) { return simulate(key, seed); }});
    return out;
}

}  // namespace cvrig::testing
