#include <catch2/catch.hpp>
#include <cmath>
#include <iostream>
#include <numbers>

#include "analysis/periodicity.hpp"
#include "tests/support/synthetic_tone.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::literals;
using test_support::filtered_wave;
using test_support::ladder_filter;
using test_support::rendered_volts;
using test_support::waveform;

constexpr sample_rate rate{48000.0};

std::vector<double> sine(double hz, std::size_t samples) {
    std::vector<double> out(samples);
    for (std::size_t i = 0; i < samples; ++i)
        out[i] = std::sin(2.0 * std::numbers::pi * hz * static_cast<double>(i) / rate.value());
    return out;
}

// sum of x(i) x(i + l) over sum of squares is cos of the angle, over whole periods.
TEST_CASE("periodicity: a sine repeats itself as the cosine of the lag", "[analysis]") {
    const auto x = sine(480.0, 4800);
    CHECK_THAT(analysis::repetition(x, 100.0), Catch::WithinAbs(1.0, 1e-4));
    CHECK_THAT(analysis::repetition(x, 50.0), Catch::WithinAbs(-1.0, 1e-4));
    CHECK_THAT(analysis::repetition(x, 25.0), Catch::WithinAbs(0.0, 0.01));
    CHECK_THAT(analysis::repetition(x, 100.0 / 6.0), Catch::WithinAbs(0.5, 0.01));
}

TEST_CASE("periodicity: the pitch of a filtered wave is within 1 %", "[analysis]") {
    double worst = 0.0;
    for (const auto wave : {waveform::sine, waveform::saw, waveform::square, waveform::blend})
        for (const double hz : {65.4, 131.0, 262.0, 455.0, 523.0, 1046.0})
            for (const double cutoff : {80.0, 480.0, 4000.0}) {
                test_support::synthetic_tone tone;
                tone.pitch = hertz{hz};
                tone.harmonics_volts =
                    filtered_wave(wave, tone.pitch, ladder_filter{hertz{cutoff}, 1.0}, 20_kHz, 0.3);
                const auto x = rendered_volts(tone, rate, 2880);
                const auto found = analysis::measure_period(x, rate);
                CAPTURE(hz, cutoff);
                REQUIRE(found);
                worst = std::max(worst, std::abs(found->pitch.value() / hz - 1.0));
            }
    std::cout << "worst error of measure_period: " << 100.0 * worst << " %\n";
    CHECK(worst < 0.01);
}

TEST_CASE("periodicity: what has no period is refused by name", "[analysis]") {
    const std::vector<double> nothing(2880, 0.25);
    CHECK(analysis::measure_period(nothing, rate).error() == analysis::refusal::silent);
    const auto noise = test_support::white_noise(2880, 1_V, 7);
    CHECK(analysis::measure_period(noise, rate).error() == analysis::refusal::no_pitch);
    CHECK(analysis::measure_period(std::vector<double>(8, 1.0), rate).error() ==
          analysis::refusal::too_short);
    auto broken = sine(100.0, 2880);
    broken[7] = NAN;
    CHECK(analysis::measure_period(broken, rate).error() == analysis::refusal::not_finite);
    CHECK(analysis::measure_period(sine(100.0, 2880), rate, {.lowest = 200_Hz, .highest = 100_Hz})
              .error() == analysis::refusal::bad_argument);
}

}  // namespace
