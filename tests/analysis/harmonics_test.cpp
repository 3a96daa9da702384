#include "analysis/harmonics.hpp"

#include <rapidcheck/catch.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <complex>
#include <limits>
#include <numbers>

#include "synthesis.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

namespace {

constexpr sample_rate rate{48000};

harmonic_set measured(const std::vector<synthesis::partial>& wave, std::size_t count) {
    // 110 Hz has no whole number of periods in 5000 samples, so nothing comes out by luck.
    const auto x = synthesis::additive(wave, 110, rate.value(), 5000);
    return harmonic_levels(x, rate, 110_Hz, count).value();
}

}  // namespace

TEST_CASE("harmonics: saw, square and triangle give their Fourier series",
          "[analysis][harmonics]") {
    // Standard mathematics: saw 2/(pi k), square 4/(pi k) odd, triangle 8/(pi k)^2 odd; nine
    // digits.
    const auto saw = measured(synthesis::sawtooth(200), 200);
    CHECK_THAT(saw.harmonics[0].peak.value(), WithinAbs(0.636619772, 5e-10));
    CHECK_THAT(saw.harmonics[2].peak.value(), WithinAbs(0.212206591, 5e-10));
    CHECK_THAT(saw.harmonics[4].peak.value(), WithinAbs(0.127323954, 6e-10));
    const auto square = measured(synthesis::square(200), 200);
    CHECK_THAT(square.harmonics[0].peak.value(), WithinAbs(1.273239545, 6e-10));
    CHECK_THAT(square.harmonics[1].peak.value(), WithinAbs(0.0, 1e-12));
    CHECK_THAT(square.harmonics[2].peak.value(), WithinAbs(0.424413182, 5e-10));
    const auto triangle = measured(synthesis::triangle(200), 200);
    CHECK_THAT(triangle.harmonics[0].peak.value(), WithinAbs(0.810569469, 5e-10));
    CHECK_THAT(triangle.harmonics[4].peak.value(), WithinAbs(0.032422779, 5e-10));
    CHECK_THAT(saw.residual_rms.value(), WithinAbs(0.0, 1e-11));
}

TEST_CASE("harmonics: band-limited distortion is that of the truncated series",
          "[analysis][harmonics]") {
    struct row {
        std::size_t count;
        double saw, square, triangle;
    };
    // Sums of the Fourier series up to harmonic K (standard mathematics), nine digits.
    const row rows[] = {{5, 0.680889941, 0.388730126, 0.118091824},
                        {10, 0.741463237, 0.428794768, 0.120476504},
                        {50, 0.790653359, 0.472971334, 0.121147428},
                        {100, 0.796858771, 0.478226637, 0.121152239}};
    for (const auto& r : rows) {
        CAPTURE(r.count);
        CHECK_THAT(measured(synthesis::sawtooth(r.count), r.count).thd_f().value(),
                   WithinAbs(r.saw, 1e-9));
        CHECK_THAT(measured(synthesis::square(r.count), r.count).thd_f().value(),
                   WithinAbs(r.square, 1e-9));
        CHECK_THAT(measured(synthesis::triangle(r.count), r.count).thd_f().value(),
                   WithinAbs(r.triangle, 1e-9));
    }
}

TEST_CASE("harmonics: distortion of the ideal waves is approached from below",
          "[analysis][harmonics]") {
    // Closed forms: THD_F of a square is sqrt(pi^2/8 - 1) = 0.483425848, of a triangle
    // sqrt(pi^4/96 - 1) = 0.121152927; THD_R of a triangle 0.120273453. 200 harmonics miss the
    // square by 0.0025 and the triangle by less than 1e-7.
    const auto square = measured(synthesis::square(200), 200).thd_f().value();
    CHECK(square < 0.483425848);
    CHECK_THAT(square, WithinAbs(0.483425848, 0.0028));
    const auto triangle = measured(synthesis::triangle(200), 200);
    CHECK_THAT(triangle.thd_f().value(), WithinAbs(0.121152927, 1e-7));
    CHECK_THAT(triangle.thd_r().value(), WithinAbs(0.120273453, 1e-7));
}

TEST_CASE("harmonics: phase counts from the first sample and DC stands apart",
          "[analysis][harmonics]") {
    rc::prop("amplitude, phase and DC come back", [] {
        const double f = *rc::gen::inRange(60, 2000), dc = *rc::gen::inRange(-50, 50) / 10.0;
        const std::vector<synthesis::partial> wave{{1.0 + std::abs(dc), -2.5}, {0.25, 1.0}};
        auto x = synthesis::additive(wave, f, rate.value(), 1700);
        for (double& v : x) v += dc;
        const auto set = harmonic_levels(x, rate, hertz{f}, 2).value();
        RC_ASSERT(std::abs(set.dc.value() - dc) < 1e-11);
        for (std::size_t k = 0; k < 2; ++k) {
            RC_ASSERT(std::abs(set.harmonics[k].peak.value() - wave[k].peak_volts) < 1e-11);
            RC_ASSERT(std::abs(set.harmonics[k].phase_radians - wave[k].phase_radians) < 1e-10);
        }
    });
}

TEST_CASE("harmonics: noise is reported as residual and moves levels by its uncertainty",
          "[analysis][harmonics]") {
    const auto clean = synthesis::additive({{1.0, 0.4}, {0.1, 0.2}}, 440, rate.value(), 4800);
    int beyond_two = 0;
    const int runs = 100;
    for (int i = 0; i < runs; ++i) {
        const auto x = synthesis::sum(
            clean, synthesis::noise(4800, 0.01, static_cast<unsigned long long>(i + 1)));
        const auto set = harmonic_levels(x, rate, 440_Hz, 2).value();
        CHECK_THAT(set.residual_rms.value(), WithinAbs(0.01, 5e-4));
        // Kay 1993, Fundamentals of Statistical Signal Processing: var(A) = 2 sigma^2 / N.
        CHECK_THAT(set.u_peak.value(), WithinAbs(0.01 * std::sqrt(2.0 / 4800), 1e-5));
        if (std::abs(set.harmonics[0].peak.value() - 1.0) > 2 * set.u_peak.value()) ++beyond_two;
    }
    // 4.6 % are expected beyond two standard deviations: 4.6 of 100, give or take 2; allow 4 times
    // that, and at least one, or the uncertainty would be too large.
    CHECK(beyond_two <= 13);
    CHECK(beyond_two >= 1);
}

TEST_CASE("harmonics: what is fitted leaves a residual orthogonal to every harmonic",
          "[analysis][harmonics]") {
    // The definition of least squares, by plain sums; even and odd lengths have their middle
    // between two samples and on one.
    const std::size_t length = GENERATE(2000U, 2001U, 127U);
    const std::size_t count = 7;
    const hertz pitch{1003.0};
    const double w = 2 * std::numbers::pi * pitch.value() / rate.value();
    std::vector<double> x(length);
    for (std::size_t i = 0; i < length; ++i)
        x[i] = std::sin(0.01 * static_cast<double>(i * i % 997));
    const auto meter = harmonic_meter::prepared(length, rate, pitch, count).value();
    const auto set = meter.levels(x).value();
    std::vector<double> rest = x;
    double power = 0;
    for (std::size_t i = 0; i < length; ++i) {
        rest[i] -= set.dc.value();
        for (std::size_t k = 1; k <= count; ++k) {
            const auto& h = set.harmonics[k - 1];
            rest[i] -=
                h.peak.value() *
                std::cos(static_cast<double>(k) * w * static_cast<double>(i) + h.phase_radians);
        }
        power += rest[i] * rest[i] / static_cast<double>(length);
    }
    CAPTURE(length);
    CHECK_THAT(set.residual_rms.value(), WithinAbs(std::sqrt(power), 1e-12));
    for (std::size_t k = 0; k <= count; ++k) {
        std::complex<double> sum{};
        for (std::size_t i = 0; i < length; ++i)
            sum += rest[i] * std::polar(1.0, static_cast<double>(k * i) * w);
        // Rounding of some thousand terms of size 1.
        CHECK_THAT(std::abs(sum), WithinAbs(0.0, 1e-9));
    }
    CHECK(meter.levels(std::span{x}.first(length - 1)).error() == refusal::bad_argument);
}

TEST_CASE("harmonics: a wrong pitch loses what the header says", "[analysis][harmonics]") {
    // 0.1 Hz off for one second at k = 1: (pi * 0.1)^2 / 6 = 1.645 %.
    const auto x = synthesis::additive({{1.0, 0.0}}, 440.1, rate.value(), 48000);
    const auto set = harmonic_levels(x, rate, 440_Hz, 1).value();
    CHECK_THAT(set.harmonics[0].peak.value(), WithinAbs(1 - 0.01645, 2e-4));
}

TEST_CASE("harmonics: what cannot be measured is refused by reason", "[analysis][harmonics]") {
    auto x = synthesis::additive({{1.0, 0.0}}, 100, rate.value(), 4800);
    const auto reason = [&](sample_rate r, hertz f, std::size_t count) {
        return harmonic_levels(x, r, f, count).error();
    };
    CHECK(reason(sample_rate{-1}, 100_Hz, 1) == refusal::bad_argument);
    CHECK(reason(rate, hertz{0}, 1) == refusal::bad_argument);
    CHECK(reason(rate, 100_Hz, 0) == refusal::bad_argument);
    CHECK(reason(rate, 100_Hz, 240) == refusal::bad_argument);
    CHECK(reason(rate, 19_Hz, 1) == refusal::too_short);
    x[7] = std::numeric_limits<double>::quiet_NaN();
    CHECK(reason(rate, 100_Hz, 1) == refusal::not_finite);
    x.assign(4800, 0.0);
    CHECK(reason(rate, 100_Hz, 1) == refusal::silent);
    CHECK(harmonic_set{}.thd_f().error() == refusal::silent);
}
