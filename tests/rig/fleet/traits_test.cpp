// One unit's traits, and what a change of constants does to it.

#include <catch2/catch.hpp>

#include "rig/fleet/constants_change.hpp"
#include "rig/fleet/unit_traits.hpp"
#include "tests/rig/fleet/synthetic.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::WithinAbs;

namespace {

tracking_record heard(const true_unit& truth, double noise_cents = 0.0) {
    std::mt19937_64 random{11};
    return record_of_unit(truth, {.noise_cents = noise_cents}, random);
}

unit_traits traits(const tracking_record& r) {
    const auto found = traits_of(r.notes, 1.0, 0.0);
    REQUIRE(found);
    return *found;
}

}  // namespace

TEST_CASE("unit traits: gain, offset and hysteresis are what was built in", "[fleet]") {
    const true_unit truth{
        .gain_cents_per_octave = 7.0, .offset_cents = -3.0, .hysteresis_cents = 0.4};
    const auto t = traits(heard(truth));
    CHECK_THAT(t.gain.cents, WithinAbs(7.0, 1e-9));
    // Half of the notes are higher by the hysteresis.
    CHECK_THAT(t.offset.cents, WithinAbs(-2.8, 1e-9));
    CHECK_THAT(t.straightness.cents, WithinAbs(0.0, 1e-9));
    REQUIRE(t.hysteresis);
    CHECK_THAT(t.hysteresis->cents, WithinAbs(0.4, 1e-9));
    REQUIRE(t.scatter);
    CHECK_THAT(t.scatter->cents, WithinAbs(0.0, 1e-9));
}

TEST_CASE("unit traits: a parabola departs most at an end, by two thirds of its bend and a bit",
          "[fleet]") {
    const auto t = traits(heard({.bend_cents = 3.0}));
    // Outside check: the mean of 1 - x^2 over the 13 steps of x from -1 to 1 is 1 - 14 / 36, worked
    // out by hand from the sum of the first 6 squares, 91; the end lies at 0.
    CHECK_THAT(t.straightness.cents, WithinAbs(3.0 * (1.0 - 14.0 / 36.0), 1e-9));
    CHECK_THAT(std::abs(t.straightness_at_volts - 2.0), WithinAbs(2.0, 1e-9));
}

TEST_CASE("unit traits: drift is not taken for hysteresis", "[fleet]") {
    auto r = heard({});
    for (std::size_t i = 0; i < r.notes.size(); ++i)
        r.notes[i].error_cents += 0.05 * static_cast<double>(i);
    const auto t = traits(r);
    CHECK_THAT(t.hysteresis->cents, WithinAbs(0.0, 1e-9));
    CHECK_THAT(t.scatter->cents, WithinAbs(0.0, 1e-9));
}

TEST_CASE("unit traits: the stated uncertainties hold the truth as often as they say", "[fleet]") {
    std::mt19937_64 random{5};
    const true_unit truth{.gain_cents_per_octave = 7.0, .offset_cents = -3.0};
    constexpr int trials = 1000;
    int gain = 0;
    int offset = 0;
    int hysteresis = 0;
    double scatter = 0.0;
    for (int i = 0; i < trials; ++i) {
        const auto t = traits(record_of_unit(truth, {.noise_cents = 0.2}, random));
        gain += std::abs(t.gain.cents - 7.0) <= 1.96 * t.gain.u_cents;
        offset += std::abs(t.offset.cents + 3.0) <= 1.96 * t.offset.u_cents;
        hysteresis += std::abs(t.hysteresis->cents) <= 2.0 * t.hysteresis->u_cents;
        scatter += t.scatter->cents / trials;
    }
    // 95 % of 1000, give or take 3.5 standard deviations of that count (24); the hysteresis takes
    // the larger of two uncertainties, so it is kept within more often.
    CHECK(std::abs(gain - 950) <= 24);
    CHECK(std::abs(offset - 950) <= 24);
    CHECK(hysteresis >= 950 - 24);
    // The mean standard deviation of 11 degrees of freedom is 0.978 sigma (JCGM 100:2008 has the
    // like in E.4.3 as an approximation; the figure is that of the chi distribution); 4 of its
    // standard errors are 0.006.
    CHECK_THAT(scatter, WithinAbs(0.2 * 0.978, 0.006));
}

TEST_CASE("unit traits: too few notes, or all at one voltage, have none", "[fleet]") {
    auto r = heard({});
    r.notes.resize(2);
    CHECK_FALSE(traits_of(r.notes, 1.0, 0.0));
    r.notes = {{1.0, 0.0, 0.1, true}, {1.0, 0.1, 0.1, false}, {1.0, 0.0, 0.1, false}};
    CHECK_FALSE(traits_of(r.notes, 1.0, 0.0));
}

TEST_CASE("change of constants: errors follow as if the codes had been turned into volts anew",
          "[fleet]") {
    std::mt19937_64 random{3};
    std::uniform_real_distribution<double> u{-1.0, 1.0};
    for (int i = 0; i < 200; ++i) {
        const pitch_constants before{0.1 * u(random), 0.00125 * (1.0 + 0.01 * u(random))};
        const pitch_constants after{0.1 * u(random), 0.00125 * (1.0 + 0.01 * u(random))};
        const double code = 2000.0 + 2000.0 * u(random);
        const double at = 2.0 + 2.0 * u(random);
        const double per_octave = i % 2 == 0 ? 1.0 : 1.2;
        const auto error = [&](const pitch_constants& c) {
            return (c.offset_volts + c.gain_volts_per_code * code - at) * 1200.0 / per_octave;
        };
        const auto change = change_between(before, after);
        CHECK_THAT(change.error_after(at, error(before), per_octave),
                   WithinAbs(error(after), 1e-8));
        const auto made = change.applied_to(before);
        CHECK_THAT(made.offset_volts, WithinAbs(after.offset_volts, 1e-12));
        CHECK_THAT(made.gain_volts_per_code, WithinAbs(after.gain_volts_per_code, 1e-15));
    }
}

TEST_CASE("change of constants: no change changes nothing", "[fleet]") {
    const auto r = heard({.gain_cents_per_octave = 7.0, .bend_cents = 1.0}, 0.1);
    CHECK(notes_after(r.notes, {}, r.volts_per_octave) == r.notes);
}
