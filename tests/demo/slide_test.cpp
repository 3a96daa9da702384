#include "demo/slide.hpp"

#include "playing.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

using Catch::Matchers::WithinAbs;
using ferrule::fault;
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
        faults.set(fault::slide_time, 50.0);
        const auto heard = slide_between(3.0, 4.0, 5.0, faults);
        CHECK_THAT(remaining_share(heard, 3.0, 4.0, 0.033), WithinAbs(std::exp(-1.0), 0.02));
    }
    SECTION("eight times slow") {
        faults.set(fault::slide_slow_8x, 1.0);
        const auto heard = slide_between(3.0, 4.0, 5.0, faults);
        CHECK_THAT(remaining_share(heard, 3.0, 4.0, 0.176), WithinAbs(std::exp(-1.0), 0.02));
    }
    SECTION("short of the target") {
        faults.set(fault::slide_arrival_short, 8.0);
        const auto heard = slide_between(3.0, 4.0, 5.0, faults);
        CHECK_THAT(1200.0 * (volts_around(heard, 0.9, 1.4) - 4.0), WithinAbs(-8.0, 0.5));
    }
    SECTION("past the target") {
        faults.set(fault::slide_overshoot, 40.0);
        const auto heard = slide_between(3.0, 4.0, 5.0, faults);
        CHECK_THAT(1200.0 * furthest_past_share(heard, 3.0, 4.0), WithinAbs(40.0, 10.0));
    }
    SECTION("smeared steps without slide") {
        faults.set(fault::step_smear, 10.0);
        const auto heard = slide_between(3.0, 4.0, 0.0, faults);
        CHECK_THAT(remaining_share(heard, 3.0, 4.0, 0.010), WithinAbs(std::exp(-1.0), 0.05));
    }
}

namespace {

/// A slide of an octave up from 2 V and, this long after, one of an octave on to 4 V.
ferrule::sound two_slides(double second_seconds, fault which, double magnitude) {
    playing::score score{1.5};
    score.set(jack::pitch, 0.0, 2.0).gate(0.1, 1.5).set(jack::cutoff, 0.0, 2.5);
    score.set(jack::slide, 0.2, 5.0);
    score.set(jack::pitch, step_seconds - second_seconds, 3.0).set(jack::pitch, step_seconds, 4.0);
    auto plan = playing::calibrated(1);
    plan.faults.set(which, magnitude);
    return ferrule::render(score.stimulus(), plan, {});
}

}  // namespace

TEST_CASE("the second slide of a run slides, and jumps only with its fault", "[demo]") {
    const auto good = two_slides(0.3, fault::slide_second_jumps, 0.0);
    CHECK_THAT(remaining_share(good, 3.0, 4.0, 0.022), WithinAbs(std::exp(-1.0), 0.02));
    const auto bad = two_slides(0.3, fault::slide_second_jumps, 1.0);
    CHECK_THAT(remaining_share(bad, 3.0, 4.0, 0.022), WithinAbs(0.0, 0.02));
}

// One RC with two steps: what is left of the first goes on shrinking under the second.
TEST_CASE("an interrupted slide goes on from where it is, and elsewhere only with its fault",
          "[demo]") {
    const double left_volts = std::exp(-0.022 / 0.022);
    const auto good = two_slides(0.022, fault::slide_interrupted_start, 0.0);
    const double good_share = (1.0 + left_volts) * std::exp(-0.5);
    CHECK_THAT(remaining_share(good, 3.0, 4.0, 0.011), WithinAbs(good_share, 0.03));
    const auto bad = two_slides(0.022, fault::slide_interrupted_start, 300.0);
    const double moved_share = -0.25 * std::exp(-0.5);
    CHECK_THAT(remaining_share(bad, 3.0, 4.0, 0.011) - remaining_share(good, 3.0, 4.0, 0.011),
               WithinAbs(moved_share, 0.02));
}

TEST_CASE("a slide whose time depends on the interval is right for one octave", "[demo]") {
    ferrule::fault_set faults;
    faults.set(fault::slide_interval_dependence, 50.0);
    CHECK_THAT(remaining_share(slide_between(3.0, 4.0, 5.0, faults), 3.0, 4.0, 0.022),
               WithinAbs(std::exp(-1.0), 0.02));
    CHECK_THAT(remaining_share(slide_between(2.0, 4.0, 5.0, faults), 2.0, 4.0, 0.033),
               WithinAbs(std::exp(-1.0), 0.02));
}

// Exponential in hertz: log2 of a falling exponential between the two frequencies.
TEST_CASE("a slide that is exponential in hertz only is so with its fault", "[demo]") {
    ferrule::fault_set faults;
    faults.set(fault::slide_shape_hertz, 1.0);
    const double volts_past_start = std::log2(2.0 - std::exp(-1.0));
    CHECK_THAT(remaining_share(slide_between(3.0, 4.0, 5.0, faults), 3.0, 4.0, 0.022),
               WithinAbs(1.0 - volts_past_start, 0.02));
}
