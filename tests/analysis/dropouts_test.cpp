#include "analysis/dropouts.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "tests/analysis/synthesis.hpp"

using namespace cvrig;
using Catch::Matchers::WithinAbs;

namespace {

constexpr double pitch_hz = 131.3;
constexpr double noise_v = 1e-4;

std::vector<double> note(double rate_hz, std::size_t samples, double from_sample = 0.0) {
    return synthesis::additive(synthesis::scaled_partials(synthesis::sawtooth(20), 3.0), pitch_hz,
                               rate_hz, samples, -from_sample);
}

}  // namespace

TEST_CASE("gaps: a hole is found where it is, as long as it is", "[analysis][dropouts]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    const double length_ms = GENERATE(0.3, 0.5, 5.0);
    CAPTURE(rate, length_ms);
    auto x = note(rate, static_cast<std::size_t>(0.2 * rate));
    const auto first = static_cast<std::size_t>(0.1 * rate) + 7;
    const auto count = static_cast<std::size_t>(std::lround(1e-3 * length_ms * rate));
    for (std::size_t i = first; i < first + count; ++i) x[i] = 0.0;
    x = synthesis::sum(x, synthesis::noise(x.size(), noise_v, 3));
    const auto found = analysis::find_gaps(x, sample_rate{rate}, volts{noise_v}, volts{0.0});
    REQUIRE(found);
    REQUIRE(found->size() == 1);
    CHECK_THAT(found->front().at_samples, WithinAbs(static_cast<double>(first), 1.0));
    CHECK_THAT(found->front().length.value(),
               WithinAbs(static_cast<double>(count) / rate, 1.0 / rate));
}

TEST_CASE("gaps: a note, its end and silence have none", "[analysis][dropouts]") {
    auto x = note(48000.0, 19200);
    // Released with 8 ms from the middle on: nothing sounds behind the silence.
    for (std::size_t i = 9600; i < x.size(); ++i)
        x[i] *= std::exp(-static_cast<double>(i - 9600) / (0.008 * 48000.0));
    x = synthesis::sum(x, synthesis::noise(x.size(), noise_v, 5));
    const auto found = analysis::find_gaps(x, sample_rate{48000.0}, volts{noise_v}, volts{0.0});
    REQUIRE(found);
    CHECK(found->empty());
}

TEST_CASE("gaps: a wave that crosses zero slowly has none, and does not make a hole longer",
          "[analysis][dropouts]") {
    // Four harmonics of a saw have no slope at all half-way through the period, where they stay
    // within five deviations of the noise for 15 samples.
    const double noise = 1e-3, pitch = 261.6;
    const auto x =
        synthesis::sum(synthesis::additive(synthesis::scaled_partials(synthesis::sawtooth(4), 1.0),
                                           pitch, 48000.0, 9600),
                       synthesis::noise(9600, noise, 3));
    const auto none = analysis::find_gaps(x, sample_rate{48000.0}, volts{noise}, volts{0.0});
    REQUIRE(none);
    CHECK(none->empty());
    for (std::size_t first = 4000; first < 4200; ++first) {
        CAPTURE(first);
        auto holed = x;
        for (std::size_t i = first; i < first + 60; ++i)
            holed[i] = noise * (i % 2 == 0 ? 0.5 : -0.5);
        const auto found =
            analysis::find_gaps(holed, sample_rate{48000.0}, volts{noise}, volts{0.0});
        REQUIRE(found);
        REQUIRE(found->size() == 1);
        const auto& g = found->front();
        CHECK_THAT(g.length.value(), WithinAbs(60.0 / 48000.0, 3.0 * g.u_length.value()));
    }
}

TEST_CASE("slips: a pitch that is wrong by 5 % is mended, wherever the slip is",
          "[analysis][dropouts]") {
    const double share = GENERATE(0.15, 0.3, 0.5, 0.8);
    const double wrong = GENERATE(0.95, 1.05);
    CAPTURE(share, wrong);
    const auto first = static_cast<std::size_t>(share * 19200);
    auto x = note(48000.0, first);
    const auto rest = note(48000.0, 19200 - first, static_cast<double>(first) + 48.0);
    x.insert(x.end(), rest.begin(), rest.end());
    x = synthesis::sum(x, synthesis::noise(x.size(), noise_v, 11));
    const auto found = analysis::find_slips(x, sample_rate{48000.0}, hertz{pitch_hz * wrong});
    REQUIRE(found);
    REQUIRE(found->slips.size() == 1);
    // Stated in the header.
    CHECK_THAT(found->slips.front().jump.value(), WithinAbs(1e-3, 5e-6));
}

TEST_CASE("slips: missing and doubled samples are told by their number", "[analysis][dropouts]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    // In microseconds; a period is 7.6 ms. Below 0: played twice.
    const double jump_us = GENERATE(100.0, 500.0, -500.0, 2700.0);
    CAPTURE(rate, jump_us);
    const auto half = static_cast<std::size_t>(0.2 * rate);
    const double jump = std::round(1e-6 * jump_us * rate);
    auto x = note(rate, half);
    const auto rest = note(rate, half, static_cast<double>(half) + jump);
    x.insert(x.end(), rest.begin(), rest.end());
    x = synthesis::sum(x, synthesis::noise(x.size(), noise_v, 11));
    const auto found = analysis::find_slips(x, sample_rate{rate}, hertz{pitch_hz * 1.002});
    REQUIRE(found);
    REQUIRE(found->slips.size() == 1);
    const auto& s = found->slips.front();
    // A pitch wrong by 0.2 % is a time wrong by that.
    CHECK_THAT(s.jump.value(), WithinAbs(jump / rate, 5e-6 + 0.002 * std::abs(jump) / rate));
    CHECK_THAT(s.at_samples, WithinAbs(static_cast<double>(half), 2.0 * rate / pitch_hz));
}

TEST_CASE("slips: a whole note, a falling one and a hole have none", "[analysis][dropouts]") {
    auto x = note(48000.0, 19200);
    for (std::size_t i = 0; i < x.size(); ++i)
        x[i] *= std::exp(-static_cast<double>(i) / (3.5 * 48000.0));
    if (GENERATE(false, true))
        for (std::size_t i = 9000; i < 9024; ++i) x[i] = 0.0;
    x = synthesis::sum(x, synthesis::noise(x.size(), noise_v, 5));
    const auto found = analysis::find_slips(x, sample_rate{48000.0}, hertz{pitch_hz});
    REQUIRE(found);
    CHECK(found->slips.empty());
    CHECK(found->smallest < seconds{1e-4});
}

TEST_CASE("dropouts: what cannot be read is refused", "[analysis][dropouts]") {
    const std::vector<double> silent(9600, 0.0);
    const sample_rate rate{48000.0};
    CHECK(analysis::find_slips(silent, rate, hertz{100.0}).error() == analysis::refusal::silent);
    CHECK(analysis::find_slips(note(48000.0, 2000), rate, hertz{pitch_hz}).error() ==
          analysis::refusal::too_short);
    CHECK(analysis::find_gaps(std::span{silent}.first(500), rate, volts{0.0}, volts{0.0}).error() ==
          analysis::refusal::too_short);
    CHECK(analysis::find_gaps(silent, rate, volts{-1.0}, volts{0.0}).error() ==
          analysis::refusal::bad_argument);
}
