#include "analysis/strike_count.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>
#include <vector>

#include "tests/analysis/synthesis.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

namespace {

constexpr double pitch_hz = 1046.5;

// An envelope that is struck at these times, falls with 8 ms in between, and can be let go early.
std::vector<double> struck(const std::vector<double>& at_s, double rate_hz, double length_s,
                           double peak = 2.0, double noise = 1e-3) {
    const auto n = static_cast<std::size_t>(length_s * rate_hz);
    auto x = synthesis::additive(synthesis::sawtooth(12), pitch_hz, rate_hz, n);
    double level = 0.0;
    std::size_t next = 0;
    double left = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
        if (next < at_s.size() && static_cast<double>(i) >= at_s[next] * rate_hz) {
            left = 0.003 * rate_hz;
            ++next;
        }
        if (left > 0.0) {
            level += (peak - level) / left;
            left -= 1.0;
        } else {
            level *= std::exp(-1.0 / (0.008 * rate_hz));
        }
        x[i] *= level;
    }
    return synthesis::sum(x, synthesis::noise(n, noise, 2));
}

}  // namespace

TEST_CASE("strike count: every strike is counted, from silence and into a tail, at every rate",
          "[analysis][strike_count]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    const std::vector<double> at{0.05, 0.1, 0.12, 0.13, 0.2, 0.206, 0.3};
    const auto found = count_strikes(struck(at, rate, 0.4), synthesis::noise(4800, 1e-3, 3),
                                     sample_rate{rate}, {hertz{pitch_hz}});
    REQUIRE(found);
    REQUIRE(found->size() == at.size());
    for (std::size_t i = 0; i < at.size(); ++i) {
        CAPTURE(i);
        // Two periods after the strike at the latest, and a window of two periods sees it early.
        CHECK_THAT((*found)[i].at.value(), WithinAbs(at[i], 2.0 / pitch_hz + 0.001));
    }
}

TEST_CASE("strike count: a held, beating or falling note is one strike",
          "[analysis][strike_count]") {
    const auto n = 24000U;
    auto x = synthesis::additive({{2.0, 0.0}}, pitch_hz, 48000.0, n);
    for (std::size_t i = 0; i < n; ++i) {
        const double t = static_cast<double>(i) / 48000.0;
        x[i] *= t < 0.05 ? 0.0 : std::exp(-t) * (1.0 + 0.05 * std::sin(40.0 * t));
    }
    const auto found =
        count_strikes(x, synthesis::noise(4800, 1e-4, 3), sample_rate{48000.0}, {hertz{pitch_hz}});
    REQUIRE(found);
    CHECK(found->size() == 1);
}

TEST_CASE("strike count: what crackles in a tail does not strike", "[analysis][strike_count]") {
    // Pops of 32 mV and 2 samples in the silence after a note of 2 V.
    auto x = struck({0.05}, 48000.0, 0.4, 2.0, 1e-5);
    for (const std::size_t at : {9600UL, 12000UL, 16000UL})
        for (std::size_t i = at; i < at + 2; ++i) x[i] += 0.032;
    const auto found =
        count_strikes(x, synthesis::noise(4800, 1e-5, 3), sample_rate{48000.0}, {hertz{pitch_hz}});
    REQUIRE(found);
    CHECK(found->size() == 1);
}

TEST_CASE("strike count: a tail that fades into noise does not strike",
          "[analysis][strike_count]") {
    for (unsigned long long seed = 1; seed <= 60; ++seed) {
        auto x = synthesis::additive({{2.0, 0.0}}, pitch_hz, 48000.0, 24000);
        for (std::size_t i = 0; i < x.size(); ++i)
            x[i] *= std::exp(-static_cast<double>(i) / 48000.0 / 0.008);
        const auto found = count_strikes(synthesis::sum(x, synthesis::noise(x.size(), 1e-3, seed)),
                                         synthesis::noise(4800, 1e-3, seed + 500),
                                         sample_rate{48000.0}, {hertz{pitch_hz}});
        REQUIRE(found);
        CAPTURE(seed);
        CHECK(found->size() == 1);
    }
}

TEST_CASE("strike count: silence and hiss have no strikes", "[analysis][strike_count]") {
    const std::vector<double> nothing(9600, 0.0);
    const auto hiss = synthesis::noise(48000, 0.01, 11);
    const auto silence = synthesis::noise(4800, 0.01, 12);
    CHECK(count_strikes(nothing, nothing, sample_rate{48000.0}, {hertz{pitch_hz}})->empty());
    CHECK(count_strikes(hiss, silence, sample_rate{48000.0}, {hertz{pitch_hz}})->empty());
    CHECK_FALSE(count_strikes(nothing, {}, sample_rate{48000.0}, {hertz{pitch_hz}}));
    CHECK_FALSE(count_strikes(nothing, nothing, sample_rate{48000.0}, {hertz{0.0}}));
}
