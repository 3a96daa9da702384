#include "analysis/stereo.hpp"

#include <rapidcheck/catch.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "synthesis.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

namespace {

constexpr sample_rate rate{48000};
constexpr double f = 65.406;  // C2, period 733.9 samples

std::vector<double> saw(double delay_samples, std::size_t samples = 48000) {
    return synthesis::additive(synthesis::sawtooth(40), f, rate.value(), samples, delay_samples);
}

stereo_reading compared(const std::vector<double>& left, const std::vector<double>& right) {
    return compare_channels(left, right, rate).value();
}

double in_samples(seconds t) {
    return t.value() * rate.value();
}

}  // namespace

TEST_CASE("stereo: identical channels null as deep as numbers go", "[analysis][stereo]") {
    const auto x = saw(0);
    const auto r = compared(x, x);
    CHECK_THAT(r.null_depth.value(), WithinAbs(-313.07, 0.01));  // 20 lg 2^-52
    CHECK(r.aligned_null_depth.value() < -180);
    CHECK_THAT(r.gain_difference.value(), WithinAbs(0, 1e-9));
    CHECK_THAT(in_samples(r.delay), WithinAbs(0, 1e-9));
    CHECK_FALSE(r.inverted);
    CHECK(r.u_gain.value() < 1e-8);
}

TEST_CASE("stereo: a delay of any part of a sample is found", "[analysis][stereo]") {
    // Exact: each partial is shifted in phase by its own delay.
    const auto left = saw(0, 6000);
    for (const double delay : {-200.75, -47.5, -1.0, -0.01, 0.25, 0.5, 3.37, 64.9, 300.125}) {
        CAPTURE(delay);
        const auto r = compared(left, saw(delay, 6000));
        CHECK_THAT(in_samples(r.delay), WithinAbs(delay, 1e-5));
        CHECK_THAT(r.gain_difference.value(), WithinAbs(0, 1e-5));  // bass: taps pass DC exactly
        CHECK(r.aligned_null_depth.value() < -95);
        CHECK_FALSE(r.inverted);
    }
}

TEST_CASE("stereo: sound up to four fifths of half the rate is aligned as well",
          "[analysis][stereo]") {
    const auto wave = synthesis::sawtooth(19);  // 1 kHz to 19 kHz
    const auto left = synthesis::additive(wave, 1000, rate.value(), 6000);
    const auto right = synthesis::additive(wave, 1000, rate.value(), 6000, 3.37);
    const auto r = compared(left, right);
    CHECK_THAT(in_samples(r.delay), WithinAbs(3.37, 1e-5));
    CHECK(r.aligned_null_depth.value() < -95);
}

TEST_CASE("stereo: gain and polarity come back", "[analysis][stereo]") {
    const auto left = saw(0, 6000);
    rc::prop("for any gain, either sign, either order", [&] {
        const double gain = *rc::gen::inRange(1, 80) / 20.0 * (*rc::gen::inRange(0, 2) ? 1 : -1);
        const double delay = *rc::gen::inRange(-80, 80) / 8.0;
        const auto right = synthesis::scaled(saw(delay, 6000), gain);
        const auto r = compared(left, right);
        RC_ASSERT(r.inverted == (gain < 0));
        RC_ASSERT(std::abs(r.gain_difference.value() - 20 * std::log10(std::abs(gain))) < 1e-4);
        RC_ASSERT(std::abs(in_samples(r.delay) - delay) < 1e-5);
        const auto swapped = compared(right, left);
        RC_ASSERT(std::abs((swapped.gain_difference + r.gain_difference).value()) < 1e-4);
        RC_ASSERT(std::abs((swapped.delay + r.delay).value()) < 1e-9);
    });
}

TEST_CASE("stereo: the raw null follows from gain and polarity by algebra", "[analysis][stereo]") {
    const auto left = saw(0);
    // right = g left: (right - left) / left = g - 1.
    CHECK_THAT(compared(left, synthesis::scaled(left, 1.01)).null_depth.value(),
               WithinAbs(-40.0, 1e-9));
    CHECK_THAT(compared(left, synthesis::scaled(left, -1.0)).null_depth.value(),
               WithinAbs(6.0206, 5e-5));
    // A sine late by d: 2 sin(w d / 2); 1 sample of 1 kHz: 2 sin(pi / 48) = -17.67 dB.
    const auto tone = synthesis::additive({{1, 0}}, 1000, rate.value(), 48000);
    const auto late = synthesis::additive({{1, 0}}, 1000, rate.value(), 48000, 1.0);
    CHECK_THAT(compared(tone, late).null_depth.value(),
               WithinAbs(20 * std::log10(2 * std::sin(std::numbers::pi / 48)), 1e-6));
}

TEST_CASE("stereo: DC in one channel is not a difference in sound", "[analysis][stereo]") {
    const auto left = saw(0);
    auto right = left;
    for (double& v : right) v += 0.5;
    CHECK(compared(left, right).null_depth.value() < -200);
}

TEST_CASE("stereo: scatter over noise realisations is what the uncertainties say",
          "[analysis][stereo]") {
    const auto left = saw(0, 8192);
    const auto clean = saw(2.5, 8192);
    double squared_delay = 0, squared_gain = 0, told_delay = 0, told_gain = 0;
    const int runs = 60;
    for (int i = 1; i <= runs; ++i) {
        const auto noise = synthesis::noise(8192, 0.005, static_cast<unsigned long long>(i));
        // Twice as loud and upside down, so that gain and polarity must not enter u_delay.
        const auto r = compared(left, synthesis::scaled(synthesis::sum(clean, noise), -2));
        squared_delay += std::pow(in_samples(r.delay) - 2.5, 2);
        squared_gain += std::pow(r.gain_difference.value() - 20 * std::log10(2.0), 2);
        told_delay += std::pow(in_samples(r.u_delay), 2);
        told_gain += std::pow(r.u_gain.value(), 2);
        // rms of the saw of 40 harmonics is 0.5704 V: noise at -41.1 dB.
        CHECK_THAT(r.aligned_null_depth.value(), WithinAbs(-41.15, 0.3));
    }
    // A standard deviation from 60 runs is good to 9 %; 4 times that either way.
    CHECK_THAT(std::sqrt(squared_delay / told_delay), WithinAbs(1.0, 0.37));
    CHECK_THAT(std::sqrt(squared_gain / told_gain), WithinAbs(1.0, 0.37));
    // C. H. Knapp and G. C. Carter 1976: for a known signal var(delay) >= sigma^2 / sum(s'^2).
    double slope_power = 0;
    for (const auto& p : synthesis::sawtooth(40)) {
        const double k = 2 / (std::numbers::pi * p.peak_volts);
        slope_power += std::pow(p.peak_volts * k * 2 * std::numbers::pi * f / 48000, 2) / 2;
    }
    const double bound = 0.005 / std::sqrt(slope_power * 8192);
    CHECK_THAT(std::sqrt(squared_delay / runs) / bound, WithinAbs(1.0, 0.4));
}

TEST_CASE("stereo: noise of low pitch does not make the uncertainty too small",
          "[analysis][stereo]") {
    // One-pole noise: neighbouring samples hang together, so 8192 of them tell as little as a
    // hundred; a formula for white noise would claim a gain ten times too sure.
    const auto left = saw(0, 8192);
    double squared_gain = 0, told_gain = 0;
    const int runs = 60;
    for (int i = 1; i <= runs; ++i) {
        auto rest = synthesis::noise(8192, 0.002, static_cast<unsigned long long>(i));
        for (std::size_t n = 1; n < rest.size(); ++n) rest[n] += 0.99 * rest[n - 1];
        const auto r = compared(left, synthesis::sum(left, rest));
        squared_gain += std::pow(r.gain_difference.value(), 2);
        told_gain += std::pow(r.u_gain.value(), 2);
    }
    // 9 % from 60 runs as above, and part of the noise runs on from one part to the next.
    CHECK_THAT(std::sqrt(squared_gain / told_gain), WithinAbs(1.0, 0.45));
}

TEST_CASE("stereo: the options bound the delay and say what is quiet", "[analysis][stereo]") {
    const auto left = synthesis::noise(6000, 0.1, 7);
    std::vector<double> right(300, 0.0);
    right.insert(right.end(), left.begin(), left.end() - 300);
    CHECK_THAT(in_samples(compared(left, right).delay), WithinAbs(300, 1e-5));
    CHECK(compare_channels(left, right, rate, {.longest_delay = 1_ms}).error() == refusal::no_fit);
    CHECK(compare_channels(left, right, rate, {.quiet = 200_mV}).error() == refusal::silent);
    CHECK(compare_channels(left, right, rate, {.longest_delay = seconds{-1}}).error() ==
          refusal::bad_argument);
}

TEST_CASE("stereo: of equally good delays of a steady tone the shortest is given",
          "[analysis][stereo]") {
    // One period of 1 kHz is 48 samples: 45 late is 3 early.
    const auto wave = synthesis::sawtooth(15);
    const auto left = synthesis::additive(wave, 1000, rate.value(), 9600);
    const auto right = synthesis::additive(wave, 1000, rate.value(), 9600, 45);
    CHECK_THAT(in_samples(compared(left, right).delay), WithinAbs(-3, 1e-5));
    // A square upside down is not half a period late.
    const auto square = synthesis::additive(synthesis::square(15), 1000, rate.value(), 9600);
    const auto upside_down = compared(square, synthesis::scaled(square, -1));
    CHECK(upside_down.inverted);
    CHECK_THAT(in_samples(upside_down.delay), WithinAbs(0, 1e-6));
}

TEST_CASE("stereo: channels that cannot be compared are refused by reason", "[analysis][stereo]") {
    const auto left = saw(0, 4096);
    const std::vector<double> none(4096, 0.0), dc(4096, 1.0);
    const auto reason = [&](const std::vector<double>& l, const std::vector<double>& r) {
        return compare_channels(l, r, rate).error();
    };
    CHECK(reason(left, none) == refusal::silent);
    CHECK(reason(none, left) == refusal::silent);
    CHECK(reason(left, dc) == refusal::silent);
    CHECK(reason(left, saw(0, 4095)) == refusal::bad_argument);
    CHECK(compare_channels(left, left, sample_rate{0}).error() == refusal::bad_argument);
    CHECK(reason(saw(0, 1000), saw(0, 1000)) == refusal::too_short);
    CHECK(reason(left, synthesis::noise(4096, 1.0, 5)) == refusal::no_fit);
    // A fifth of the left channel under noise: correlation 0.36.
    const auto foreign =
        synthesis::sum(synthesis::scaled(left, 0.2), synthesis::noise(4096, 0.3, 6));
    CHECK(reason(left, foreign) == refusal::no_fit);
    auto broken = left;
    broken[9] = std::numeric_limits<double>::infinity();
    CHECK(reason(left, broken) == refusal::not_finite);
}
