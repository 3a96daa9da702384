#include "analysis/amplitude.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <complex>
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
constexpr double decay_s = 3.5;

std::vector<double> silence() {
    return synthesis::noise(4800, 1e-4, 4);
}

/// Harmonics 1 and up, `every` apart, of a note that decays with 3.5 s behind four equal low-pass
/// poles, whose cutoff falls by two octaves, with 0.3 s, to `resting_hz`.
std::vector<double> closing_note(double hz, int every, double resting_hz, int harmonics = 12) {
    auto x = synthesis::noise(static_cast<std::size_t>(0.7 * rate.value()), 1e-4, 3);
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double t = static_cast<double>(i) / rate.value();
        const double cutoff = resting_hz * std::exp2(2.0 * std::exp(-t / 0.3));
        for (int k = 1; k <= harmonics; k += every) {
            const std::complex<double> pole = 1.0 / std::complex<double>{1.0, hz * k / cutoff};
            const double turn = 2.0 * std::numbers::pi * hz * k * t;
            x[i] +=
                std::exp(-t / decay_s) / k * std::imag(std::pow(pole, 4) * std::polar(1.0, turn));
        }
    }
    return x;
}

}  // namespace

TEST_CASE("amplitude: a closing filter does not bend the decay", "[analysis][amplitude]") {
    // One pole's gain is 1 / sqrt(1 + (f / cutoff)^2) (standard mathematics); harmonic 2 or 3
    // helps.
    const int every = GENERATE(1, 2);
    const double hz = GENERATE(65.41, 130.81, 261.63);
    CAPTURE(every, hz);
    const auto x = closing_note(hz, every, 2400.0);
    const auto frames = track_amplitude(x, silence(), rate, {.pitch = hertz{hz}, .hop = 10_ms});
    REQUIRE(frames);
    const auto decay = measure_decay(*frames, 0.1_s, 0.68_s, envelope_track::fundamental);
    REQUIRE(decay);
    // 0.5 %: the bound that the header states.
    CHECK_THAT(decay->time_constant.value(), WithinAbs(decay_s, 0.005 * decay_s));
}

TEST_CASE("amplitude: a sine is its own amplitude", "[analysis][amplitude]") {
    const auto x = closing_note(110.0, 1, 1e6, 1);
    const auto frames = track_amplitude(x, silence(), rate, {.pitch = 110_Hz, .hop = 10_ms});
    const auto plain = track_envelope(x, rate, {.pitch = 110_Hz, .hop = 10_ms});
    REQUIRE(frames);
    REQUIRE(plain);
    REQUIRE(frames->size() == plain->size());
    for (std::size_t i = 0; i < frames->size(); ++i)
        CHECK_THAT((*frames)[i].fundamental.value(),
                   WithinAbs((*plain)[i].fundamental.value(), 1e-12));
}

TEST_CASE("amplitude: bad records and requests are refused by name", "[analysis][amplitude]") {
    const auto x = closing_note(110.0, 1, 2400.0, 3);
    auto broken = silence();
    broken[7] = std::numeric_limits<double>::quiet_NaN();
    CHECK(track_amplitude(x, broken, rate, {110_Hz}).error() == refusal::not_finite);
    CHECK(track_amplitude(x, {}, rate, {110_Hz}).error() == refusal::too_short);
    CHECK(track_amplitude(x, silence(), rate, {5000_Hz}).error() == refusal::bad_argument);
    CHECK(track_amplitude(std::vector<double>(9600, 0.0), silence(), rate, {110_Hz}).error() ==
          refusal::silent);
}
