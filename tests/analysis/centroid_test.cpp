#include "analysis/centroid.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <numeric>
#include <vector>

using namespace cvrig;
using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;

namespace {

// Harmonic k of the given peak amplitude, 200 Hz at 48 kHz: exactly 240 samples a period.
std::vector<double> sound_of(const std::vector<double>& peaks, std::size_t samples) {
    std::vector<double> out(samples);
    for (std::size_t i = 0; i < samples; ++i)
        for (std::size_t k = 1; k <= peaks.size(); ++k)
            out[i] += peaks[k - 1] *
                      std::sin(2.0 * std::numbers::pi * static_cast<double>(k * i) / 240.0);
    return out;
}

// A saw whose harmonic k falls as exp(-3 k t) from a chance phase of its oscillator on, as beneath a
// filter that closes; 40 ms at 130.8 Hz and 48 kHz.
std::vector<double> closing_saw(double phase_periods) {
    std::vector<double> out(1920);
    for (std::size_t i = 0; i < out.size(); ++i) {
        const double t = static_cast<double>(i) / 48000.0;
        for (int k = 1; k <= 30; ++k)
            out[i] += std::exp(-3.0 * k * t) / k *
                      std::sin(2.0 * std::numbers::pi * k * (130.8 * t + phase_periods));
    }
    return out;
}

double scatter_of(const std::vector<double>& values) {
    double sum = 0.0, squares = 0.0;
    for (const double v : values) sum += v;
    const double mean = sum / static_cast<double>(values.size());
    for (const double v : values) squares += (v - mean) * (v - mean);
    return std::sqrt(squares / static_cast<double>(values.size() - 1));
}

}  // namespace

TEST_CASE("the centroid of a band-limited saw is the count over its harmonic number",
          "[analysis][centroid]") {
    // Fourier series of the saw (standard mathematics): A_k = 2/(pi k), so sum k A_k / sum A_k = K
    // / H_K; H_10 = 2.928968.
    std::vector<double> saw;
    for (int k = 1; k <= 10; ++k) saw.push_back(2.0 / (std::numbers::pi * k));
    const auto c = measure_centroid(sound_of(saw, 4800), sample_rate{48000.0}, hertz{200.0});
    REQUIRE(c);
    CHECK_THAT(c->harmonic,
               WithinAbs(10.0 / 2.9289682539682538, 1e-9));  // exact tone: rounding only
    CHECK_THAT(c->fundamental.value(), WithinAbs(2.0 / std::numbers::pi, 1e-9));
}

TEST_CASE("a sine has centroid one, whatever its gain", "[analysis][centroid]") {
    for (const double gain : {1e-3, 1.0, -5.0}) {
        const auto c = measure_centroid(sound_of({gain}, 2400), sample_rate{48000.0}, hertz{200.0});
        REQUIRE(c);
        CHECK_THAT(c->harmonic, WithinAbs(1.0, 1e-9));
    }
}

TEST_CASE("a changing centroid hangs little on the phase of the strike, and says how much",
          "[analysis][centroid]") {
    std::vector<double> one_window, averaged, u;
    constexpr int phases = 97;
    for (int i = 0; i < phases; ++i) {
        const auto sound = closing_saw(static_cast<double>(i) / phases);
        const auto one = measure_centroid(sound, sample_rate{48000.0}, hertz{130.8});
        const auto mean = measure_changing_centroid(sound, sample_rate{48000.0}, hertz{130.8});
        REQUIRE(one);
        REQUIRE(mean);
        one_window.push_back(one->harmonic);
        averaged.push_back(mean->harmonic);
        u.push_back(std::hypot(mean->u_noise, mean->u_phase));
    }
    CAPTURE(scatter_of(one_window), scatter_of(averaged));
    CHECK(scatter_of(averaged) < 0.5 * scatter_of(one_window));
    const double mean = std::accumulate(averaged.begin(), averaged.end(), 0.0) / phases;
    int covered = 0;
    for (std::size_t i = 0; i < averaged.size(); ++i)
        covered += std::abs(averaged[i] - mean) <= 2.0 * u[i] ? 1 : 0;
    CHECK(covered >= 92);  // 95 % of 97
}

TEST_CASE("a changing centroid of a steady tone is the centroid, without doubt",
          "[analysis][centroid]") {
    const auto sound = sound_of({1.0, 0.5}, 2400);
    const auto c = measure_changing_centroid(sound, sample_rate{48000.0}, hertz{200.0});
    REQUIRE(c);
    CHECK_THAT(c->harmonic, WithinAbs(4.0 / 3.0, 1e-9));  // (1 + 2 / 2) / 1.5; rounding only
    CHECK_THAT(c->u_phase, WithinAbs(0.0, 1e-9));
    // Three periods and the one that is averaged over.
    CHECK(measure_changing_centroid(sound_of({1.0}, 900), sample_rate{48000.0}, hertz{200.0})
              .error() == refusal::too_short);
}

TEST_CASE("silence and impossible requests are refused", "[analysis][centroid]") {
    CHECK_FALSE(
        measure_centroid(std::vector<double>(2400, 0.0), sample_rate{48000.0}, hertz{200.0}));
    CHECK(measure_centroid(sound_of({1.0}, 2400), sample_rate{48000.0}, hertz{0.0}).error() ==
          refusal::bad_argument);
}
