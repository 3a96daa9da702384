#include "analysis/brightness.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>
#include <vector>

#include "synthesis.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

namespace {

constexpr sample_rate rate{48000.0};

/// Harmonic k = 1, 2, ... with amplitude `of(k, t)`.
std::vector<double> note(double hz, int harmonics, const std::function<double(int, double)>& of,
                         double length_s, double noise_v = 1e-4) {
    auto x = synthesis::noise(static_cast<std::size_t>(length_s * rate.value()), noise_v, 3);
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double t = static_cast<double>(i) / rate.value();
        for (int k = 1; k <= harmonics; ++k)
            x[i] += of(k, t) * std::sin(2.0 * std::numbers::pi * hz * k * t);
    }
    return x;
}

std::vector<double> silence() {
    return synthesis::noise(4800, 1e-4, 4);
}

double saw(int k, double /*t*/) {
    return 1.0 / k;
}

}  // namespace

TEST_CASE(
    "brightness: the mean harmonic of a band-limited saw is the count over its harmonic number",
    "[analysis][brightness]") {
    // Fourier series of the saw (standard mathematics): A_k = 1/k, so sum k A_k / sum A_k = K /
    // H_K; harmonic numbers H_10 = 2.928968, H_40 = 4.278543.
    struct row {
        int harmonics;
        double harmonic_number;
    };
    const auto r = GENERATE(row{10, 2.928968254}, row{40, 4.278543039});
    const double hz = GENERATE(65.41, 130.81, 261.63);
    CAPTURE(r.harmonics, hz);
    const auto frames =
        track_brightness(note(hz, r.harmonics, saw, 0.3), silence(), rate, {.pitch = hertz{hz}});
    REQUIRE(frames);
    const double expected = 20.0 * std::log10(r.harmonics / r.harmonic_number);
    // 0.1 dB: the bound that the header states.
    for (const auto& f : *frames) CHECK_THAT(f.brightness.value(), WithinAbs(expected, 0.1));
}

TEST_CASE("brightness: noise between and above the harmonics does not count",
          "[analysis][brightness]") {
    const auto sine = [](int /*k*/, double /*t*/) { return 1.0; };
    const auto frames = track_brightness(note(110.0, 1, sine, 0.3), silence(), rate, {110_Hz});
    REQUIRE(frames);
    for (const auto& f : *frames) CHECK_THAT(f.brightness.value(), WithinAbs(0.0, 0.02));
}

TEST_CASE("brightness: an exponential course is read with its time constant",
          "[analysis][brightness]") {
    // Two harmonics, the second falling from b to 0: the mean harmonic is (1 + 2b) / (1 + b), so b
    // is chosen for the mean harmonic to fall as 1.4 dB exp(-t / tau).
    const double tau = GENERATE(0.1, 0.3);
    const auto two = [&](int k, double t) {
        const double mean = std::pow(10.0, 1.4 * std::exp(-t / tau) / 20.0);
        return k == 1 ? 1.0 : (mean - 1.0) / (2.0 - mean);
    };
    const auto frames = track_brightness(note(130.81, 2, two, 0.6), silence(), rate,
                                         {.pitch = hertz{130.81}, .hop = 10_ms});
    REQUIRE(frames);
    const auto settling = measure_settling(*frames, 20_ms, 0.6_s, envelope_track::brightness);
    REQUIRE(settling);
    CHECK_THAT(settling->time_constant.value(), WithinAbs(tau, 0.02 * tau));
}

TEST_CASE("brightness: bad records and requests are refused by name", "[analysis][brightness]") {
    const auto x = note(110.0, 5, saw, 0.3);
    auto broken = x;
    broken[77] = std::numeric_limits<double>::quiet_NaN();
    CHECK(track_brightness(broken, silence(), rate, {110_Hz}).error() == refusal::not_finite);
    CHECK(track_brightness(x, {}, rate, {110_Hz}).error() == refusal::too_short);
    CHECK(track_brightness(std::span{x}.first(1200), silence(), rate, {110_Hz}).error() ==
          refusal::too_short);
    CHECK(track_brightness(x, silence(), rate, {5000_Hz}).error() == refusal::bad_argument);
    CHECK(track_brightness(std::vector<double>(9600, 0.0), silence(), rate, {110_Hz}).error() ==
          refusal::silent);
}
