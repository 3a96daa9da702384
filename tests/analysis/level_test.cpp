#include "analysis/level.hpp"

#include <rapidcheck/catch.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>

#include "synthesis.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;

namespace {

/// One value for each of `periods` * `samples` instants of a wave given over one period (0..1).
/// Instants lie half-way between samples, so that no jump falls on one.
template <class Wave>
std::vector<double> sampled(Wave wave, std::size_t samples = 4800, std::size_t periods = 10) {
    std::vector<double> x;
    for (std::size_t p = 0; p < periods; ++p)
        for (std::size_t i = 0; i < samples; ++i)
            x.push_back(wave((static_cast<double>(i) + 0.5) / static_cast<double>(samples)));
    return x;
}

double sine(double turn) {
    return std::sin(2 * std::numbers::pi * turn);
}

level_reading of(const std::vector<double>& x) {
    return measure_level(x).value();
}

}  // namespace

TEST_CASE("level: crest factors of the standard waves", "[analysis][level]") {
    // Standard mathematics, peak over rms: square 1, sine and full-wave rectified sine sqrt 2,
    // triangle and sawtooth sqrt 3, half-wave rectified sine 2, pulse of duty D from zero
    // 1/sqrt D. The finite number of samples misses the peak by at most 2e-4.
    const auto crest = [](const std::vector<double>& x) { return of(x).crest_factor(); };
    CHECK_THAT(crest(sampled([](double t) { return t < 0.5 ? 1.0 : -1.0; })), WithinAbs(1, 1e-12));
    CHECK_THAT(crest(sampled(sine)), WithinAbs(1.414213562, 1e-6));
    CHECK_THAT(crest(sampled([](double t) { return std::abs(sine(t)); })),
               WithinAbs(1.414213562, 1e-6));
    CHECK_THAT(crest(sampled([](double t) { return std::max(0.0, sine(t)); })),
               WithinAbs(2.0, 1e-6));
    CHECK_THAT(crest(sampled([](double t) { return 2 * t - 1; })), WithinAbs(1.732050808, 4e-4));
    CHECK_THAT(crest(sampled([](double t) { return 1 - 4 * std::abs(t - 0.5); })),
               WithinAbs(1.732050808, 8e-4));
    CHECK_THAT(crest(sampled([](double t) { return t < 0.25 ? 1.0 : 0.0; })), WithinAbs(2, 1e-12));
    CHECK_THAT(crest(sampled([](double t) { return t < 0.1 ? 1.0 : 0.0; })),
               WithinAbs(3.16227766, 1e-8));
    CHECK_THAT(crest(sampled([](double t) { return t < 0.1 ? -1.0 : 0.0; })),
               WithinAbs(3.16227766, 1e-8));  // upside down
}

TEST_CASE("level: dBu values of sines by peak to peak volts", "[analysis][level]") {
    // By definition 0 dBu = sqrt(0.6) V rms (IEC 60268 / common audio practice); a sine of 10 V
    // peak to peak has 3.535533906 V rms = 13.1876 dBu; half the last printed digit.
    const std::pair<double, double> rows[] = {
        {1, -6.8124}, {2, -0.7918}, {5, 7.1670}, {10, 13.1876}, {20, 19.2082}};
    for (const auto& [peak_to_peak, level_dbu] : rows) {
        CAPTURE(peak_to_peak);
        const auto r = of(synthesis::additive({{peak_to_peak / 2, 0}}, 1000, 48000, 48000));
        CHECK_THAT(r.level().value(), WithinAbs(level_dbu, 5.1e-5));
        CHECK_THAT(r.peak_to_peak().value(), WithinAbs(peak_to_peak, 1e-12));
    }
    // +4 dBu is 1.227652988 V rms and a sine peak of 1.736163505 V.
    const auto line = of(synthesis::additive({{1.736163505, 0}}, 1000, 48000, 48000));
    CHECK_THAT(line.level().value(), WithinAbs(4.0, 1e-8));
    CHECK_THAT(line.rms.value(), WithinAbs(1.227652988, 1e-9));
}

TEST_CASE("level: DC and AC add in quadrature", "[analysis][level]") {
    rc::prop("rms^2 = dc^2 + ac_rms^2, and gain scales all volts", [] {
        const double dc = *rc::gen::inRange(-100, 100) / 10.0;
        const double gain = *rc::gen::inRange(1, 400) / 20.0;
        auto x = synthesis::additive({{1.0, 0.3}}, 100, 48000, 4800);
        for (double& v : x) v += dc;
        const auto one = of(x), more = of(synthesis::scaled(x, gain));
        RC_ASSERT(std::abs(one.dc.value() - dc) < 1e-12);
        RC_ASSERT(std::abs(one.ac_rms.value() - std::sqrt(0.5)) < 1e-12);
        RC_ASSERT(std::abs(std::hypot(dc, one.ac_rms.value()) - one.rms.value()) < 1e-12);
        RC_ASSERT(std::abs(more.rms / one.rms - gain) < 1e-12);
        RC_ASSERT(std::abs((more.level() - one.level()).value() - 20 * std::log10(gain)) < 1e-10);
        RC_ASSERT(std::abs(more.crest_factor() - one.crest_factor()) < 1e-12);
    });
}

TEST_CASE("level: samples cut off at the top are counted", "[analysis][level]") {
    auto x = synthesis::additive({{1.0, 0}}, 100, 48000, 4800);
    CHECK(of(x).clipped_samples == 0);
    std::size_t cut = 0;
    for (double& v : x) {
        if (v < 0.9) continue;
        v = 0.9;
        ++cut;
    }
    REQUIRE(cut > 500);
    CHECK(of(x).clipped_samples == cut);
    std::vector<double> tops{0, 1, 2, 3, 3, 3, 2, 1, 0, 1, 2, 3, 3, 3, 3, 2, 1, 0, -1};
    CHECK(of(tops).clipped_samples == 4);  // three in a row are not enough, four are
    for (double& v : x) v = std::max(v, -0.5);
    CHECK(of(x).clipped_samples > 2 * cut);
}

TEST_CASE("level: a sine after 16-bit quantisation is not called clipped", "[analysis][level]") {
    // 65.4 Hz (C2) at half of full scale: two or three codes in a row at the crest.
    auto x = synthesis::additive({{0.5, 0.1}}, 65.406, 48000, 48000);
    for (double& v : x) v = std::round(v * 32768) / 32768;
    CHECK(of(x).clipped_samples == 0);
    CHECK(of(std::vector<double>(100, 1.0)).clipped_samples == 0);  // plain DC has no crest
}

TEST_CASE("level: the uncertainty of rms is that of noise", "[analysis][level]") {
    // Uniform noise: var(x^2) = 4/5 sigma^4, so u(rms) = sigma sqrt(0.8 / N) / 2 (moments of the
    // uniform distribution). One estimate from 8 parts scatters by a third, the mean of 64 by 5 %.
    double sum = 0;
    for (unsigned long long seed = 1; seed <= 64; ++seed)
        sum += std::pow(of(synthesis::noise(8000, 0.1, seed)).u_rms.value(), 2);
    CHECK_THAT(std::sqrt(sum / 64), WithinAbs(0.1 * std::sqrt(0.8 / 8000) / 2, 1e-4));
    // A steady sine's square ripples by a^2 / 2, its sum by a^2 / (4 w) at either end, wherever in its
    // period that comes: at worst u = sqrt(2) / (4 w T) of the mean square, over 2 rms (standard
    // mathematics).
    const double u =
        std::sqrt(2.0) / (4.0 * 2.0 * std::numbers::pi * 100.0) / (2.0 * std::sqrt(0.5));
    CHECK_THAT(of(synthesis::additive({{1, 0}}, 100, 48000, 48000)).u_rms.value(),
               WithinAbs(u, 0.05 * u));
}

TEST_CASE("level: what has no level is refused by reason", "[analysis][level]") {
    CHECK(measure_level(std::vector<double>(15, 1.0)).error() == refusal::too_short);
    CHECK(measure_level(std::vector<double>(100, 0.0)).error() == refusal::silent);
    std::vector<double> x(100, 1.0);
    x[50] = std::numeric_limits<double>::quiet_NaN();
    CHECK(measure_level(x).error() == refusal::not_finite);
}

TEST_CASE("level: the peak between samples of a sine at a quarter of the rate is found",
          "[analysis][level]") {
    // Sampled at 45 degrees: samples reach 0.7071 of the peak. ITU-R BS.1770-4, Annex 2, attachment 1
    // gives this very case as what a meter of samples under-reads by 3 dB.
    std::vector<double> x;
    for (int n = 0; n < 400; ++n) x.push_back(std::sin(std::numbers::pi * (0.5 * n + 0.25)));
    CHECK_THAT(measure_level(x)->peak.value(), WithinAbs(0.7071, 1e-4));
    CHECK_THAT(true_peak(x).value(), WithinAbs(1.0, 1e-3));
}

TEST_CASE("level: what noise adds to a peak is that of the largest of so many values",
          "[analysis][level]") {
    // Mean of the largest of n normal values: H. L. Harter, "Expected values of normal order
    // statistics", Biometrika 48 (1961), 151-165: n = 1: 0, 2: 0.56419, 10: 1.53875, 100: 2.50759.
    struct row {
        std::size_t count;
        double mean;
    };
    for (const auto& [count, mean] :
         {row{1, 0.0}, row{2, 0.56419}, row{10, 1.53875}, row{100, 2.50759}}) {
        std::vector<double> record(1000, 0.0);
        std::fill_n(record.begin(), count, 1.0);  // so many tops, all alike
        const auto excess = analysis::noise_in_peak(record, volts{1.0}, volts{0.01});
        CHECK(excess.expected.value() == Approx(0.01 * mean).epsilon(0.05));  // of n = 2, Blom's
                                                                              // is 4.5 % off
        std::mt19937_64 random{count};
        std::normal_distribution<double> noise{0.0, 0.01};
        double sum = 0.0, squares = 0.0;
        constexpr int rounds = 4000;
        for (int i = 0; i < rounds; ++i) {
            double most = -1.0;
            for (std::size_t k = 0; k < count; ++k) most = std::max(most, noise(random));
            sum += most;
            squares += most * most;
        }
        const double sd = std::sqrt(squares / rounds - sum * sum / rounds / rounds);
        CHECK(excess.u.value() == Approx(sd).epsilon(0.08));  // 5 %, and the simulation's own 1.1 %
    }
    CHECK(analysis::noise_in_peak({}, volts{0.0}, volts{0.0}).expected.value() == 0.0);
}

TEST_CASE("level: a peak that noise lifts alone is brought down as far as any",
          "[analysis][level]") {
    // 65 periods of 1 V under noise of 1 mV: some hundred samples share the top, and now and then one of
    // them stands alone.
    constexpr double noise_v = 1e-3;
    int far_off = 0;
    for (unsigned seed = 1; seed <= 100; ++seed) {
        std::mt19937_64 random{seed};
        std::normal_distribution<double> noise{0.0, noise_v};
        std::vector<double> x(24000);
        for (std::size_t i = 0; i < x.size(); ++i)
            x[i] = std::sin(2.0 * std::numbers::pi * 130.81 * static_cast<double>(i) / 48000.0) +
                   noise(random);
        const auto highest = true_peak(x);
        const auto excess = analysis::noise_in_peak(x, highest, volts{noise_v});
        if (std::abs((highest - excess.expected).value() - 1.0) > 2.0 * noise_v) ++far_off;
    }
    // Of the largest of hundreds the deviation is 0.4 of the noise's; five of those are 2. One value in
    // fifty stands so far above all others that nothing tells it from the top.
    CHECK(far_off <= 3);
}
