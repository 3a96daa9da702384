#include "demo/slide.hpp"

#include "playing.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

using Catch::Matchers::WithinAbs;
using ferrule::jack;

namespace {

constexpr double step_seconds = 0.5;

/// Pitch in volts over a time span, from the periods in it.
double volts_around(const ferrule::sound& heard, double from_seconds, double to_seconds) {
    const auto wave = playing::channel(heard, 0, from_seconds, to_seconds);
    return playing::cents_above(playing::frequency_hertz(wave, heard.rate_hertz), 0.0) / 1200.0;
}

ferrule::sound slide_between(double from_volts, double to_volts, double slide_volts,
                             const ferrule::fault_set& faults = {}) {
    playing::score score{1.5};
    score.set(jack::pitch, 0.0, from_volts).gate(0.1, 1.5).set(jack::cutoff, 0.0, 2.5);
    score.set(jack::pitch, step_seconds, to_volts).set(jack::slide, step_seconds, slide_volts);
    auto plan = playing::calibrated(1);
    plan.faults = faults;
    return ferrule::render(score.stimulus(), plan, {});
}

/// What is left of the interval this long after the step, in the middle of a few periods.
double remaining_share(const ferrule::sound& heard, double from_volts, double to_volts,
                       double after_seconds) {
    constexpr double latency_seconds = 64.0 / 48000.0;
    constexpr double half_seconds = 0.004;
    const double middle = step_seconds + after_seconds + latency_seconds;
    const double volts = volts_around(heard, middle - half_seconds, middle + half_seconds);
    return (volts - to_volts) / (from_volts - to_volts);
}

/// How far beyond its target a slide runs, as a share of the interval.
double furthest_past_share(const ferrule::sound& heard, double from_volts, double to_volts) {
    double furthest = 0.0;
    for (double after = 0.05; after < 0.3; after += 0.005) {
        furthest = std::max(furthest, -remaining_share(heard, from_volts, to_volts, after));
    }
    return furthest;
}

}  // namespace

// The time constant of 100 kilohm and 220 nF is their product, 22 ms; after t the share exp(-t/RC)
// of the step remains. 1 % of an octave is 12 cents, about what a period of the glide blurs.
TEST_CASE("a slide is a capacitor of 220 nF charged through 100 kilohm", "[demo]") {
    const auto to = GENERATE(2.0, 4.0, 3.5);
    const auto after = GENERATE(0.011, 0.022, 0.044, 0.110);
    CAPTURE(to, after);
    const auto heard = slide_between(3.0, to, 5.0);
    CHECK_THAT(remaining_share(heard, 3.0, to, after), WithinAbs(std::exp(-after / 0.022), 0.02));
}

// An octave has 78 cents to go after 60 ms, and is within 5 cents after 120 ms (same arithmetic).
TEST_CASE("a slide arrives within five cents after 5.5 time constants and then on the note",
          "[demo]") {
    const auto heard = slide_between(3.0, 4.0, 5.0);
    CHECK_THAT(1200.0 * remaining_share(heard, 3.0, 4.0, 0.060), WithinAbs(78.5, 4.0));
    CHECK_THAT(1200.0 * remaining_share(heard, 3.0, 4.0, 0.121), WithinAbs(4.9, 1.5));
    CHECK_THAT(1200.0 * (volts_around(heard, 0.8, 1.4) - 4.0), WithinAbs(0.0, 1.0));
}

TEST_CASE("a tied step without slide is over within two milliseconds", "[demo]") {
    const auto heard = slide_between(3.0, 4.0, 0.0);
    const double after = step_seconds + 64.0 / 48000.0 + 0.002;
    CHECK_THAT(1200.0 * (volts_around(heard, after, after + 0.010) - 4.0), WithinAbs(0.0, 2.0));
}

TEST_CASE("a slide goes on to its note when the slide jack falls on the way", "[demo]") {
    playing::score score{1.0};
    score.set(jack::pitch, 0.0, 3.0).gate(0.1, 1.0).set(jack::cutoff, 0.0, 2.5);
    score.set(jack::pitch, step_seconds, 4.0).set(jack::slide, step_seconds, 5.0);
    score.set(jack::slide, step_seconds + 0.010, 0.0);
    const auto heard = ferrule::render(score.stimulus(), playing::calibrated(1), {});
    CHECK_THAT(remaining_share(heard, 3.0, 4.0, 0.022), WithinAbs(std::exp(-1.0), 0.02));
}

TEST_CASE("slide faults have the magnitude that they say", "[demo]") {
    ferrule::fault_set faults;
    SECTION("slower by a share") {
        faults.set(ferrule::fault::slide_time, 50.0);
        const auto heard = slide_between(3.0, 4.0, 5.0, faults);
        CHECK_THAT(remaining_share(heard, 3.0, 4.0, 0.033), WithinAbs(std::exp(-1.0), 0.02));
    }
    SECTION("eight times slow") {
        faults.set(ferrule::fault::slide_slow_8x, 1.0);
        const auto heard = slide_between(3.0, 4.0, 5.0, faults);
        CHECK_THAT(remaining_share(heard, 3.0, 4.0, 0.176), WithinAbs(std::exp(-1.0), 0.02));
    }
    SECTION("short of the target") {
        faults.set(ferrule::fault::slide_arrival_short, 8.0);
        const auto heard = slide_between(3.0, 4.0, 5.0, faults);
        CHECK_THAT(1200.0 * (volts_around(heard, 0.9, 1.4) - 4.0), WithinAbs(-8.0, 0.5));
    }
    SECTION("past the target") {
        faults.set(ferrule::fault::slide_overshoot, 40.0);
        const auto heard = slide_between(3.0, 4.0, 5.0, faults);
        CHECK_THAT(1200.0 * furthest_past_share(heard, 3.0, 4.0), WithinAbs(40.0, 10.0));
    }
    SECTION("smeared steps without slide") {
        faults.set(ferrule::fault::step_smear, 10.0);
        const auto heard = slide_between(3.0, 4.0, 0.0, faults);
        CHECK_THAT(remaining_share(heard, 3.0, 4.0, 0.010), WithinAbs(std::exp(-1.0), 0.05));
    }
}
