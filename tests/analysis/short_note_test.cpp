#include "analysis/short_note.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include "analysis/robust_fit.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;

struct made_note {
    double rate_hz{48000.0};
    double length_s{0.069};
    double from_hz{100.0}, to_hz{100.0};
    double off_cents{0.0};
    double phase_cycles{0.0};
    double decay_s{3.5};
    int harmonics{12};
    double noise_volts{0.0};
    double age_s{0.0};
};

constexpr seconds slide_time{0.022};

// A saw of some harmonics on its way from one pitch to another, all of it `off_cents` sharp.
std::vector<double> sound_of(const made_note& n) {
    std::vector<double> out;
    std::mt19937_64 random{11};
    std::normal_distribution<double> noise{0.0, 1.0};
    double phase = n.phase_cycles;
    const auto count = static_cast<std::size_t>(n.length_s * n.rate_hz);
    for (std::size_t i = 0; i < count; ++i) {
        const double t = static_cast<double>(i) / n.rate_hz;
        double sum = 0.0;
        for (int k = 1; k <= n.harmonics; ++k) sum += std::sin(two_pi * k * phase) / k;
        out.push_back(2.0 * sum * std::exp(-t / n.decay_s) + n.noise_volts * noise(random));
        const double left = std::exp(-(n.age_s + t) / slide_time.value());
        const double pitch = n.to_hz * std::pow(n.from_hz / n.to_hz, left);
        phase += pitch * std::exp2(n.off_cents / 1200.0) / n.rate_hz;
    }
    return out;
}

outcome<short_note_reading> heard(const made_note& n) {
    return read_short_note(sound_of(n), sample_rate{n.rate_hz},
                           {hertz{n.from_hz}, hertz{n.to_hz}, slide_time, seconds{n.age_s}});
}

}  // namespace

TEST_CASE(
    "short note: a steady saw up to 50 cents off is read within 1.5 cents, whatever pitch and "
    "phase",
    "[analysis][short_note]") {
    double worst = 0.0;
    for (const double rate : {44100.0, 48000.0, 96000.0, 192000.0})
        for (double pitch = 62.0; pitch < 900.0; pitch *= 1.13)
            for (const double off : {-50.0, -7.0, 0.0, 0.5, 20.0, 50.0})
                for (const double phase : {0.0, 0.37}) {
                    made_note n;
                    n.rate_hz = rate;
                    n.from_hz = n.to_hz = pitch;
                    n.off_cents = off;
                    n.phase_cycles = phase;
                    const auto r = heard(n);
                    REQUIRE(r);
                    worst = std::max(worst, std::abs(r->offset.value() - off));
                    CHECK(r->roughness < 0.02);
                    CHECK(r->share > 0.3);
                }
    CAPTURE(worst);
    CHECK(worst < 1.5);  // near 50 cents off, harmonics leak into windows of two periods
}

TEST_CASE("short note: near what is expected it is finer", "[analysis][short_note]") {
    double worst = 0.0;
    for (double pitch = 62.0; pitch < 900.0; pitch *= 1.07)
        for (const double off : {-10.0, 0.0, 3.0, 10.0}) {
            made_note n;
            n.from_hz = n.to_hz = pitch;
            n.off_cents = off;
            worst = std::max(worst, std::abs(heard(n)->offset.value() - off));
        }
    CAPTURE(worst);
    CHECK(worst < 0.1);  // as stated
}

TEST_CASE("short note: noise moves it by what it says", "[analysis][short_note]") {
    made_note n;
    n.noise_volts = 2e-3;  // 57 dB below the saw's 1.4 V rms
    n.off_cents = 4.0;
    const auto r = heard(n);
    REQUIRE(r);
    CHECK_THAT(r->offset.value(), WithinAbs(4.0, 4.0 * r->u_offset.value() + 0.05));
    CHECK(r->u_offset < cents{2.0});
}

TEST_CASE("short note: a slide is compared with its own course", "[analysis][short_note]") {
    for (const double to : {80.0, 160.0, 320.0})
        for (const double off : {0.0, 25.0}) {
            made_note n;
            n.from_hz = 140.0;
            n.to_hz = to;
            n.age_s = 0.03;
            n.length_s = 0.05;
            n.off_cents = off;
            CAPTURE(to, off);
            const auto r = heard(n);
            REQUIRE(r);
            // Windows of two periods of the lowest pitch are not whole at the others.
            CHECK_THAT(r->offset.value(), WithinAbs(off, 8.0));
        }
}

TEST_CASE("short note: a note of another pitch never passes for the expected one",
          "[analysis][short_note]") {
    // Every interval from a semitone to two octaves, both ways.
    for (int semitones = -24; semitones <= 24; ++semitones) {
        if (semitones == 0) continue;
        made_note n;
        n.from_hz = n.to_hz = 200.0;
        n.off_cents = 100.0 * semitones;
        CAPTURE(semitones);
        const auto r = heard(n);
        REQUIRE(r);
        const bool told = r->roughness > 0.02 || r->share < 0.15;
        CHECK((told || std::abs(r->offset.value()) > 60.0));
    }
}

TEST_CASE("short note: what is no note is refused by name", "[analysis][short_note]") {
    const sample_rate rate{48000.0};
    const expected_pitch at_100{hertz{100.0}, hertz{100.0}, slide_time, seconds{0.0}};
    CHECK(read_short_note(std::vector<double>(32, 1.0), rate, at_100).error() ==
          refusal::too_short);
    CHECK(read_short_note(std::vector<double>(600, 0.5), rate, at_100).error() == refusal::silent);
    auto sound = sound_of({});
    CHECK(read_short_note(std::span{sound}.first(700), rate, at_100).error() == refusal::too_short);
    CHECK(
        read_short_note(sound, rate, {hertz{0.0}, hertz{0.0}, slide_time, seconds{0.0}}).error() ==
        refusal::bad_argument);
    CHECK(read_short_note(sound, sample_rate{300.0}, at_100).error() == refusal::bad_argument);
    sound[100] = NAN;
    CHECK(read_short_note(sound, rate, at_100).error() == refusal::not_finite);
    CHECK(bright_part(sound, rate).error() == refusal::not_finite);
    CHECK(bright_part(sound_of({}), sample_rate{8000.0}).error() == refusal::bad_argument);
}

TEST_CASE("moment: a sine's level is exact and its bright part follows the filter's own formula",
          "[analysis][short_note]") {
    // Of the cookbook's band pass, analogue: |H|^2 = 1 / (1 + Q^2 (f/f0 - f0/f)^2), here twice in a
    // row; the bilinear transform warps f, as its own tangent says.
    const double rate = 48000.0;
    for (const double pitch : {500.0, 1000.0, 3000.0}) {
        std::vector<double> sine;
        for (int i = 0; i < 4800; ++i)
            sine.push_back(2.0 * std::sin(two_pi * pitch * i / rate + 0.3) + 0.25);
        const auto bright = bright_part(sine, sample_rate{rate});
        REQUIRE(bright);
        const auto r = read_moment(std::span{sine}.subspan(1200), std::span{*bright}.subspan(1200),
                                   sample_rate{rate}, hertz{pitch});
        REQUIRE(r);
        CHECK_THAT(r->level.value(), WithinAbs(10.0 * std::log10(2.0), 1e-3));
        const auto warped = [&](double f) { return std::tan(std::numbers::pi * f / rate); };
        const double x = warped(pitch) / warped(3000.0) - warped(3000.0) / warped(pitch);
        const double expected = -20.0 * std::log10(1.0 + x * x) - 10.0 * std::log10(pitch);
        CHECK_THAT(r->brightness.value(), WithinAbs(expected, 0.01));
    }
}

TEST_CASE("moment: a saw under one filter is equally bright at every pitch",
          "[analysis][short_note]") {
    // Four poles at 1.2 kHz, phase left out: amplitude 1 / k * (1 + (f / fc)^2)^-2.
    std::vector<double> all;
    for (double pitch = 65.0; pitch < 150.0; pitch *= 1.3) {
        std::vector<double> saw;
        for (int i = 0; i < 9600; ++i) {
            double sum = 0.0;
            for (int k = 1; k * pitch < 20000.0; ++k) {
                const double f = k * pitch / 1200.0;
                sum += std::sin(two_pi * k * pitch * i / 48000.0) / k / (1 + f * f) / (1 + f * f);
            }
            saw.push_back(sum);
        }
        const auto bright = bright_part(saw, sample_rate{48000.0});
        all.push_back(read_moment(std::span{saw}.subspan(4000), std::span{*bright}.subspan(4000),
                                  sample_rate{48000.0}, hertz{pitch})
                          ->brightness.value());
    }
    const auto [low, high] = std::minmax_element(all.begin(), all.end());
    CAPTURE(all);
    CHECK(*high - *low < 1.0);
}

TEST_CASE("robust fit: three in ten wrong points do not move an exact parabola",
          "[analysis][robust_fit]") {
    std::vector<double> x, y;
    for (int i = 0; i < 100; ++i) {
        x.push_back(0.03 * i);
        y.push_back(2.0 - 0.7 * x.back() + 0.1 * x.back() * x.back() + (i % 10 < 3 ? 4.5 : 0.0));
    }
    const auto r = fit_robust(x, y, 2);
    REQUIRE(r);
    for (const double at : {0.0, 1.5, 3.0})
        CHECK_THAT((*r)(at), WithinAbs(2.0 - 0.7 * at + 0.1 * at * at, 1e-4));
    CHECK(r->scatter < 1e-4);
}

TEST_CASE("robust fit: the scatter of normal errors is their standard deviation",
          "[analysis][robust_fit]") {
    std::mt19937_64 random{5};
    std::normal_distribution<double> error{0.0, 0.2};
    std::vector<double> x, y;
    for (int i = 0; i < 4000; ++i) {
        x.push_back(1e-3 * i);
        y.push_back(1.0 + x.back() + error(random));
    }
    // The median of 4000 absolute values scatters by about 1.2 %.
    CHECK_THAT(fit_robust(x, y, 1)->scatter, WithinAbs(0.2, 0.01));
}

TEST_CASE("robust fit: too little or too poor a list is refused by name",
          "[analysis][robust_fit]") {
    const std::vector<double> few{1, 2, 3}, same(20, 1.0), other{1, 2};
    CHECK(fit_robust(few, few, 1).error() == refusal::too_short);
    CHECK(fit_robust(few, other, 0).error() == refusal::bad_argument);
    CHECK(fit_robust(same, same, 1).error() == refusal::no_fit);
    CHECK(median_of({3.0, 1.0, 2.0}) == 2.0);
    CHECK(median_of({4.0, 1.0, 2.0, 3.0}) == 2.5);
}
