#include <cmath>
#include <numbers>

#include "analysis/noise_floor.hpp"
#include "rig/checks/listening.hpp"
#include "rig/checks/noise_passages.hpp"
#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_take.hpp"

namespace cvrig::testing {

namespace {

constexpr double pi = std::numbers::pi;

double dbu_of_peak(double peak_volts) {
    return 20.0 * std::log10(peak_volts / std::sqrt(2.0) / std::sqrt(0.6));
}

/// White noise, a line of hum, a whine and a jack that bleeds, each drawn anew.
struct drawn_silence {
    double noise_volts, hum_volts, mains_hz, whine_volts, whine_hz, phase, bleed_share;
};

// Integral of the A weighting's power over the band, over the band up to half the rate.
double weighted_share(double rate_hz) {
    double sum = 0.0;
    for (double f = 20.5; f < 20000.0; f += 1.0)
        sum += std::pow(10.0, analysis::a_weighting(hertz{f}).value() / 10.0);
    return sum / (rate_hz / 2.0);
}

double truth_of(const std::string& key, const drawn_silence& s, double rate_hz) {
    if (key == "mains") return dbu_of_peak(s.hum_volts);
    if (key == "idle tone") return dbu_of_peak(s.whine_volts);
    if (key == "bleed") return 20.0 * std::log10(s.bleed_share);
    // The floor is known without lines.
    static const double weighted = weighted_share(rate_hz);
    const double share = key == "floor" ? 19980.0 / (rate_hz / 2.0) : weighted;
    return 20.0 * std::log10(s.noise_volts * std::sqrt(share) / std::sqrt(0.6));
}

std::vector<double> sound_of(const drawn_silence& s, const passage& asked, std::size_t samples,
                             sample_rate rate, bool with_lines) {
    std::vector<double> out(samples);
    if (with_lines)
        for (std::size_t i = 0; i < samples; ++i) {
            const double t = static_cast<double>(i) / rate.value();
            out[i] = s.hum_volts * std::cos(2.0 * pi * s.mains_hz * t + s.phase) +
                     s.whine_volts * std::cos(2.0 * pi * s.whine_hz * t + 2.0 * s.phase);
        }
    // The note that proves the output alive.
    if (asked.steps.back().gate)
        for (std::size_t i = 0; i < samples; ++i) out[i] = std::sin(0.03 * static_cast<double>(i));
    // The pitch jack, as the rig renders it.
    seconds at{0.0};
    for (const auto& step : asked.steps) {
        const auto begin = static_cast<std::size_t>(std::llround(at.value() * rate.value()));
        at += step.length;
        const auto end = static_cast<std::size_t>(std::llround(at.value() * rate.value()));
        for (std::size_t i = begin; i < std::min(end, samples); ++i)
            out[i] += s.bleed_share * step.pitch.value();
    }
    return out;
}

std::optional<trial> simulate(const std::string& key, std::uint64_t seed) {
    simulated_desk desk{"noise", {key}, seed};
    const drawn_silence s{.noise_volts = 1e-4 * std::pow(10.0, desk.uniform(0.0, 1.0)),
                          .hum_volts = 1e-4 * std::pow(10.0, desk.uniform(0.0, 1.0)),
                          .mains_hz = desk.uniform(0.0, 1.0) < 0.5 ? desk.uniform(49.8, 50.2)
                                                                   : desk.uniform(59.8, 60.2),
                          .whine_volts = 1e-4 * std::pow(10.0, desk.uniform(0.0, 1.0)),
                          .whine_hz = desk.uniform(700.0, 9000.0),
                          .phase = desk.uniform(0.0, 2.0 * pi),
                          .bleed_share = 1e-4 * std::pow(10.0, desk.uniform(-1.0, 1.0))};
    const bool with_lines = key == "mains" || key == "idle tone";
    const check_request request{desk.module, desk.desk, desk.module.checks.front(), {}, 1};
    const double gain = std::pow(10.0, desk.normal(gain_uncertainty(request, 0).value()) / 20.0);
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            auto one = sound_of(s, asked, samples, rate, with_lines);
            for (double& v : one) v *= gain;
            return std::vector<std::vector<double>>{one, one};
        },
        s.noise_volts);
    const auto* found = result.find(key);
    if (found == nullptr || found->all.empty()) return std::nullopt;
    const auto& r = found->all.front();
    return trial_of(truth_of(key, s, desk.desk.rate().value()), r);
}

}  // namespace

std::vector<covered_quantity> noise_coverage() {
    std::vector<covered_quantity> out;
    for (const std::string key : {"floor", "weighted floor", "mains", "idle tone", "bleed"})
        out.push_back({"noise", key, [key](std::uint64_t seed) { return simulate(key, seed); }});
    return out;
}

}  // namespace cvrig::testing
