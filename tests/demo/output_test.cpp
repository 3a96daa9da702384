#include "playing.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

using Catch::Matchers::WithinAbs;
using ferrule::fault;
using ferrule::jack;

namespace {

struct stereo {
    std::vector<double> left;
    std::vector<double> right;
};

/// A held note, both outputs.
stereo note_with(const ferrule::fault_set& faults, double from_seconds = 0.1,
                 double to_seconds = 0.3) {
    playing::score score{0.3};
    auto plan = playing::calibrated(1);
    plan.faults = faults;
    const auto heard =
        ferrule::render(score.gate(0.05, 0.3).set(jack::pitch, 0.0, 1.0).stimulus(), plan, {});
    return {playing::channel(heard, 0, from_seconds, to_seconds),
            playing::channel(heard, 1, from_seconds, to_seconds)};
}

ferrule::fault_set one(fault which, double magnitude) {
    ferrule::fault_set faults;
    faults.set(which, magnitude);
    return faults;
}

double db_between(const std::vector<double>& louder, const std::vector<double>& quieter) {
    return 20.0 * std::log10(playing::rms(louder) / playing::rms(quieter));
}

double correlation(const std::vector<double>& a, const std::vector<double>& b) {
    double sum = 0.0;
    for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i];
    return sum / static_cast<double>(a.size()) / playing::rms(a) / playing::rms(b);
}

}  // namespace

// The noise of both outputs is 0.1 mV, some 87 dB below the note, so all of these are exact to
// about a hundredth of a decibel or a millivolt.
TEST_CASE("output faults have the magnitude that they say", "[demo]") {
    const auto good = note_with({});
    const auto louder = note_with(one(fault::level_jump, 6.0));
    CHECK_THAT(db_between(louder.left, good.left), WithinAbs(6.0, 0.01));
    CHECK_THAT(db_between(louder.right, good.right), WithinAbs(6.0, 0.01));
    const auto quieter = note_with(one(fault::output_quieter, 0.5));
    CHECK_THAT(db_between(good.right, quieter.right), WithinAbs(0.5, 0.01));
    CHECK(quieter.left == good.left);
    const auto upside_down = note_with(one(fault::output_inverted, 1.0));
    CHECK(correlation(good.left, good.right) > 0.9999);
    CHECK(correlation(upside_down.left, upside_down.right) < -0.9999);
    const auto dead = note_with(one(fault::output_dead, 1.0));
    CHECK(db_between(dead.left, dead.right) > 50.0);
    const auto resting = note_with({}, 0.0, 0.04);
    const auto lifted = note_with(one(fault::output_dc, 0.1), 0.0, 0.04);
    CHECK_THAT(playing::mean(lifted.left) - playing::mean(resting.left), WithinAbs(0.1, 0.001));
    CHECK_THAT(playing::mean(lifted.right) - playing::mean(resting.right), WithinAbs(0.1, 0.001));
}

TEST_CASE("a late output is late by the samples that it says", "[demo]") {
    const auto late = note_with(one(fault::output_delay, 3.0));
    double worst = 0.0;
    for (std::size_t i = 3; i < late.left.size(); ++i) {
        worst = std::max(worst, std::abs(late.right[i] - late.left[i - 3]));
    }
    // What remains is noise, DC of a few millivolts and a hundredth of a decibel of 5 V.
    CHECK(worst < 0.025);
}

TEST_CASE("a hiss and a tone at the block rate have the volts that they say", "[demo]") {
    const auto hiss = note_with(one(fault::output_noise, 0.01), 0.0, 0.04);
    CHECK_THAT(playing::rms(hiss.left), WithinAbs(0.0105, 0.001));
    auto tone = note_with(one(fault::block_tone, 0.1), 0.0, 0.04);
    CHECK_THAT(playing::rms(tone.left), WithinAbs(0.1 / std::sqrt(2.0), 0.001));
    CHECK_THAT(playing::frequency_hertz(tone.left, 48000.0), WithinAbs(2000.0, 5.0));
}
