#include "analysis/pitch_arrival.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "tests/analysis/synthesis.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

namespace {

constexpr double before_hz = 466.16;
constexpr double after_hz = 622.25;

// A saw whose pitch changes at `change_s` without a break, struck at `start_s`.
std::vector<double> note(double change_s, double start_s, double rate_hz, double phase,
                         double noise = 1e-3) {
    const auto n = static_cast<std::size_t>(0.06 * rate_hz);
    std::vector<double> x(n);
    for (std::size_t i = 0; i < n; ++i) {
        const double t = static_cast<double>(i) / rate_hz;
        const double f = t < change_s ? before_hz : after_hz;
        const double turn = phase + (t - change_s) * f;
        const double gain = std::clamp((t - start_s) / 0.003, 0.0, 1.0);
        for (int k = 1; k <= 15; ++k)
            x[i] += gain * 2.0 / k * std::sin(2.0 * std::numbers::pi * k * turn);
    }
    return synthesis::sum(x, synthesis::noise(n, noise, 7));
}

}  // namespace

TEST_CASE("pitch arrival: a pitch that comes late is heard to come late",
          "[analysis][pitch_arrival]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    const double late_ms = GENERATE(1.2, 1.5, 3.0, 4.0);
    for (int i = 0; i < 10; ++i) {
        CAPTURE(rate, late_ms, i);
        const double start = 0.0101 + 1.7e-6 * i;
        const auto x = note(start + 1e-3 * late_ms, start, rate, 0.1 * i);
        const auto read =
            measure_pitch_arrival(x, synthesis::noise(4800, 1e-3, 5), sample_rate{rate},
                                  {hertz{before_hz}, hertz{after_hz * 1.001}, 6_ms, 50_ms});
        REQUIRE(read);
        CHECK_THAT(read->wrong_for.value(), WithinAbs(1e-3 * late_ms, 5e-5));
        CHECK_THAT(read->start.at.value(), WithinAbs(start, 5e-5));
    }
}

TEST_CASE("pitch arrival: a pitch that comes in time is right from the start",
          "[analysis][pitch_arrival]") {
    const double early_ms = GENERATE(0.2, 1.0, 4.0, 9.0);
    for (int i = 0; i < 10; ++i) {
        const auto x = note(0.0101 - 1e-3 * early_ms, 0.0101, 48000.0, 0.1 * i);
        const auto read =
            measure_pitch_arrival(x, synthesis::noise(4800, 1e-3, 5), sample_rate{48000.0},
                                  {hertz{before_hz}, hertz{after_hz}, 6_ms, 50_ms});
        REQUIRE(read);
        CAPTURE(early_ms, i);
        CHECK(read->wrong_for.value() < 3e-4);
    }
}

TEST_CASE("pitch arrival: a note that keeps the pitch before is refused, like silence and NaN",
          "[analysis][pitch_arrival]") {
    const auto silence = synthesis::noise(4800, 1e-3, 5);
    const arrival_request request{hertz{before_hz}, hertz{after_hz}, 6_ms, 50_ms};
    const auto kept = note(1.0, 0.0101, 48000.0, 0.3);
    CHECK(measure_pitch_arrival(kept, silence, sample_rate{48000.0}, request).error() ==
          refusal::no_pitch);
    const auto hiss = synthesis::noise(2880, 1e-3, 6);
    CHECK_FALSE(measure_pitch_arrival(hiss, silence, sample_rate{48000.0}, request));
    auto spoiled = kept;
    spoiled[1000] = INFINITY;
    CHECK(measure_pitch_arrival(spoiled, silence, sample_rate{48000.0}, request).error() ==
          refusal::not_finite);
    CHECK_FALSE(measure_pitch_arrival(kept, {}, sample_rate{48000.0}, request));
}
