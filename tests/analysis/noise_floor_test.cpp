#include "analysis/noise_floor.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "analysis/steady_lines.hpp"
#include "tests/support/synthetic_tone.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;
using test_support::white_noise;

namespace {

constexpr volts operator""_uV(unsigned long long v) {
    return volts{static_cast<double>(v) * 1e-6};
}

std::vector<double> tone(double peak, double hz, double rate_hz, std::size_t n,
                         double phase = 0.3) {
    std::vector<double> out(n);
    for (std::size_t i = 0; i < n; ++i)
        out[i] =
            peak * std::cos(2.0 * std::numbers::pi * hz * static_cast<double>(i) / rate_hz + phase);
    return out;
}

line_reader reader_of(const std::vector<double>& x, double rate_hz) {
    auto r = line_reader::of(x, sample_rate{rate_hz});
    REQUIRE(r);
    return std::move(*r);
}

const steady_line& loudest(const std::vector<steady_line>& lines) {
    return *std::max_element(lines.begin(), lines.end(),
                             [](const auto& a, const auto& b) { return a.peak < b.peak; });
}

}  // namespace

TEST_CASE("a-weighting: agrees with table 3 of IEC 61672-1 at its exact frequencies",
          "[analysis][noise]") {
    // IEC 61672-1:2013, table 3: nominal third-octave frequencies 10 Hz to 20 kHz, which stand for
    // 1000 * 10^(m/10) Hz, m = -20 ... +13; printed to 0.1 dB, so half of that is the tolerance.
    const std::vector<double> table{-70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2,
                                    -22.5, -19.1, -16.1, -13.4, -10.9, -8.6,  -6.6,  -4.8,  -3.2,
                                    -1.9,  -0.8,  0.0,   0.6,   1.0,   1.2,   1.3,   1.2,   1.0,
                                    0.5,   -0.1,  -1.1,  -2.5,  -4.3,  -6.6,  -9.3};
    for (std::size_t i = 0; i < table.size(); ++i) {
        const double f = 1000.0 * std::pow(10.0, (static_cast<double>(i) - 20.0) / 10.0);
        CAPTURE(f);
        CHECK_THAT(a_weighting(hertz{f}).value(), WithinAbs(table[i], 0.0501));
    }
}

TEST_CASE("line reader: a line between bins has its amplitude and phase", "[analysis][noise]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    const double hz = GENERATE(50.13, 170.0, 976.5625, 9999.1);
    const auto r = reader_of(tone(0.002, hz, rate, static_cast<std::size_t>(rate)), rate);
    const auto a = r.at(hertz{hz});
    CHECK_THAT(std::abs(a) / 0.002, WithinAbs(1.0, 1e-4));
    CHECK_THAT(std::arg(a), WithinAbs(0.3, 1e-3));
}

TEST_CASE("line reader: noise about a line scatters as it says", "[analysis][noise]") {
    // 400 readings of two components: their standard deviation is known to 2.5 % (one standard
    // deviation), and the mean of the estimates from 50 bins each to less.
    double squares = 0.0;
    double stated = 0.0;
    for (std::uint64_t seed = 0; seed < 400; ++seed) {
        const auto r = reader_of(white_noise(4000, 1_mV, seed), 48000.0);
        squares += std::norm(r.at(3000_Hz)) / 800.0;
        stated += r.noise_near(3000_Hz).value() / 400.0;
    }
    CHECK_THAT(stated / std::sqrt(squares), WithinAbs(1.0, 0.1));
    // Closed form of a windowed line in white noise: sigma sqrt(2 sum w^4) / sum w^2, w Hann.
    CHECK_THAT(stated, WithinAbs(1e-3 * std::sqrt(2.0 * 35.0 / 128.0 / 4000.0) / 0.375, 5e-7));
}

TEST_CASE("noise floor: white noise of known power has the closed form's dBu",
          "[analysis][noise]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    CAPTURE(rate);
    const auto r = reader_of(white_noise(static_cast<std::size_t>(rate), 1_mV, 5), rate);
    const auto n = noise_in_band(r, 20_Hz, 20_kHz);
    REQUIRE(n);
    // sigma^2 spread evenly up to half the rate, 0 dBu = sqrt(0.6) V.
    const double expected =
        20.0 * std::log10(1e-3 * std::sqrt(2.0 * 19980.0 / rate) / std::sqrt(0.6));
    CHECK_THAT(n->flat.level().value(), WithinAbs(expected, 3.0 * n->flat.u().value()));
    CHECK(n->flat.u().value() < 0.06);
    // A-weighted white noise: the integral of the weighting, by the trapezoidal rule.
    double integral = 0.0;
    for (double f = 20.0; f < 20000.0; f += 1.0)
        integral += std::pow(10.0, a_weighting(hertz{f + 0.5}).value() / 10.0);
    const double weighted =
        20.0 * std::log10(1e-3 * std::sqrt(2.0 * integral / rate) / std::sqrt(0.6));
    CHECK_THAT(n->a_weighted.level().value(), WithinAbs(weighted, 3.0 * n->a_weighted.u().value()));
}

TEST_CASE("noise floor: its level scatters as its degrees of freedom say", "[analysis][noise]") {
    std::vector<double> levels;
    double stated = 0.0;
    for (std::uint64_t seed = 1; seed <= 300; ++seed) {
        const auto n =
            noise_in_band(reader_of(white_noise(4800, 1_mV, seed), 48000.0), 100_Hz, 2_kHz);
        REQUIRE(n);
        levels.push_back(n->flat.level().value());
        stated += n->flat.u().value() / 300.0;
    }
    double mean = 0.0;
    for (const double l : levels) mean += l / 300.0;
    double squares = 0.0;
    for (const double l : levels) squares += (l - mean) * (l - mean) / 299.0;
    // The standard deviation of 300 is known to 4 %: three times that.
    CHECK_THAT(std::sqrt(squares) / stated, WithinAbs(1.0, 0.13));
}

TEST_CASE("mains lines: found wherever the mains frequency wanders", "[analysis][noise]") {
    const double mains = GENERATE(49.8, 49.93, 50.0, 50.07, 50.2);
    CAPTURE(mains);
    auto x = white_noise(96000, 100_uV, 9);
    for (int k : {1, 3, 5})
        x = test_support::sum(x, tone(200e-6 / k, mains * k, 48000.0, x.size(), 0.7 * k));
    const auto lines = mains_lines(reader_of(x, 48000.0), 50_Hz, 10);
    REQUIRE(lines.size() == 10);
    const auto& worst = loudest(lines);
    CHECK_THAT(worst.frequency.value(), WithinAbs(mains, 0.01));
    CHECK(worst.stands_out());
    const auto level = worst.level();
    const double expected = 20.0 * std::log10(200e-6 / std::sqrt(2.0) / std::sqrt(0.6));
    CHECK_THAT(level.level.value(), WithinAbs(expected, 3.0 * level.u.value() + 0.05));
    CHECK(lines[2].stands_out());
}

TEST_CASE("mains lines: noise alone has none", "[analysis][noise]") {
    for (std::uint64_t seed = 1; seed <= 20; ++seed) {
        const auto lines =
            mains_lines(reader_of(white_noise(48000, 1_mV, seed), 24000.0), 60_Hz, 10);
        REQUIRE(lines.size() == 10);
        // 400 looks or so at a chance of 1e-6 each, 20 times.
        CHECK_FALSE(loudest(lines).stands_out());
    }
}

TEST_CASE("mains lines: a record that cannot resolve them gives none", "[analysis][noise]") {
    CHECK(mains_lines(reader_of(white_noise(4800, 1_mV, 3), 48000.0), 50_Hz, 10).empty());
}

TEST_CASE("loudest line: a whine is found beside hum, with its level", "[analysis][noise]") {
    auto x = white_noise(96000, 100_uV, 4);
    x = test_support::sum(x, tone(5e-3, 50.0, 48000.0, x.size()));
    x = test_support::sum(x, tone(150e-6, 1234.3, 48000.0, x.size()));
    const std::vector<hertz> hum{50_Hz};
    const auto line = loudest_line(reader_of(x, 48000.0), 20_Hz, 20_kHz, hum, 3_Hz);
    REQUIRE(line);
    CHECK_THAT(line->frequency.value(), WithinAbs(1234.3, 0.05));
    CHECK_THAT(line->peak.value(), WithinAbs(150e-6, 4e-6));
}

TEST_CASE("line level: noise hides what is lower, and says so", "[analysis][noise]") {
    // Nothing there: as high as noise could make it, within 4.34 dB.
    const auto none = level_of_line(0_V, 1_mV);
    CHECK_THAT(none.level.value(), WithinAbs(20.0 * std::log10(1e-3 / std::sqrt(0.6)), 1e-9));
    CHECK_THAT(none.u.value(), WithinAbs(4.3429, 1e-4));
    // 60 dB above the noise its power is its own.
    const auto clear = level_of_line(1_V, 1_mV);
    CHECK_THAT(clear.level.value(), WithinAbs(20.0 * std::log10(1.0 / std::sqrt(1.2)), 1e-4));
    CHECK_THAT(clear.u.value(), WithinAbs(8.686 * 1e-3, 1e-4));
}

TEST_CASE("noise analysis: bad records are refused by name", "[analysis][noise]") {
    CHECK(line_reader::of(std::vector<double>(63), sample_rate{48000.0}).error() ==
          refusal::too_short);
    std::vector<double> bad(1000);
    bad[500] = NAN;
    CHECK(line_reader::of(bad, sample_rate{48000.0}).error() == refusal::not_finite);
    CHECK(line_reader::of(std::vector<double>(1000), sample_rate{0.0}).error() ==
          refusal::bad_argument);
    const auto r = reader_of(white_noise(1000, 1_mV, 1), 48000.0);
    CHECK(noise_in_band(r, 20_kHz, 20_Hz).error() == refusal::bad_argument);
    CHECK(noise_in_band(r, 20_Hz, 200_Hz).error() == refusal::too_short);
}
