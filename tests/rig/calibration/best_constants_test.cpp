#include "rig/calibration/best_constants.hpp"

#include <catch2/catch.hpp>

#include "stories.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

TEST_CASE("best constants: a converter that is straight is put right to its last digit",
          "[calibration]") {
    invented_unit unit;
    unit.bow_per_volt = 0.0;
    const pitch_constants now{0.003, 1.002};
    std::vector<tracked_note> notes;
    for (auto n : stair(unit, now)) {
        n.error_cents = 1200.0 * (unit.sounds(n.at_volts, now) - n.at_volts);
        notes.push_back(n);
    }
    const auto best = best_constants_of(notes, 1.0, 0.0, now);
    REQUIRE(best);
    REQUIRE(best->constants);
    // Sums of fifty notes of some cents keep twelve digits.
    CHECK_THAT(best->left.worst.cents, WithinAbs(0.0, 1e-9));
    CHECK_THAT(best->constants->gain_volts_per_code, WithinAbs(1.0 / unit.gain, 1e-12));
    CHECK_THAT(best->constants->offset_volts, WithinAbs(-unit.offset_volts / unit.gain, 1e-12));
}

TEST_CASE("best constants: of a bow, a line leaves an eighth of its height over the range",
          "[calibration]") {
    // x^2 on [0, 1] departs from its best line by 1/8 (Chebyshev; E. W. Cheney, Introduction to
    // Approximation Theory, 1966, from memory).
    invented_unit unit;
    unit.gain = 1.0;
    unit.offset_volts = 0.0;
    unit.bow_per_volt = 0.0005;
    const auto best = best_constants_of(stair(unit, {0.0, 1.0}), 1.0, 0.2, pitch_constants{});
    REQUIRE(best);
    const double height_cents = 1200.0 * unit.bow_per_volt * 16.0;
    // The chance of each note is 0.05 cent; the bow bends the line by a part in a thousand.
    CHECK_THAT(best->left.worst.cents, WithinAbs(height_cents / 8.0, 0.07));
    CHECK_THAT(std::abs(best->left.bend.cents), WithinAbs(height_cents / 8.0, 0.07));
    CHECK(best->left.up_and_down.cents < 0.06);
    const auto told = in_words(best->left, 3.0, 2.0);
    CHECK_THAT(told, Contains("bend of the converter"));
    CHECK_THAT(told, !Contains("hardware is to blame"));
    CHECK_THAT(in_words(best->left, 1.0, 2.0), Contains("hardware is to blame"));
}

TEST_CASE("best constants: what differs between up and down stays, and is told", "[calibration]") {
    const invented_unit unit;
    auto notes = stair(unit, {0.0, 1.0});
    for (auto& n : notes) n.error_cents += n.upward ? 2.0 : -2.0;
    const auto best = best_constants_of(notes, 1.0, 0.2, std::nullopt);
    REQUIRE(best);
    CHECK_FALSE(best->constants);
    CHECK_THAT(best->left.up_and_down.cents, WithinAbs(2.0, 0.06));
    CHECK_THAT(in_words(best->left, 5.0, 2.0), Contains("hysteresis"));
}

TEST_CASE("best constants: steps of the converter show as scatter", "[calibration]") {
    const invented_unit unit;
    auto notes = stair(unit, {0.0, 1.0});
    // A step of 4 cent leaves each voltage off by up to 2 cent either way, up and down alike.
    for (auto& n : notes) n.error_cents += 4.0 * (std::fmod(n.at_volts * 37.77, 1.0) - 0.5);
    const auto best = best_constants_of(notes, 1.0, 0.2, std::nullopt);
    REQUIRE(best);
    // Uniform over 4 cent: 4 / sqrt(12), of 25 voltages, whose scatter is known to a seventh.
    CHECK_THAT(best->left.steps.cents, WithinAbs(4.0 / std::sqrt(12.0), 0.4));
    CHECK_THAT(in_words(best->left, 5.0, 2.0), Contains("scatter"));
}

TEST_CASE("best table: of a bow, pieces of 1 V leave a sixteenth of what a line over 4 V leaves",
          "[calibration]") {
    // A parabola departs from its best line over a stretch by an eighth of the stretch squared times
    // its coefficient (Cheney 1966, from memory); with whole tones every piece has its own touching
    // notes, of which those between the nodes lie a twelfth of a volt off the middle at most.
    invented_unit unit;
    unit.gain = 1.0;
    unit.offset_volts = 0.0;
    unit.bow_per_volt = 0.005;
    const auto notes = stair(unit, {0.0, 1.0});
    const std::vector<double> nodes{0.0, 1.0, 2.0, 3.0, 4.0};
    const auto table = best_table_of(notes, nodes, 1.0, 0.2);
    const auto line = best_constants_of(notes, 1.0, 0.2, std::nullopt);
    REQUIRE(table);
    REQUIRE(line);
    const double piece_cents = 1200.0 * unit.bow_per_volt / 8.0;
    CHECK_THAT(table->worst.cents, WithinAbs(piece_cents, 0.07));
    // The bow, of heard volts against asked ones, is less than a tenth steeper at its top end.
    CHECK_THAT(line->left.worst.cents, WithinAbs(16.0 * piece_cents, 1.5));
    REQUIRE(table->add_volts.size() == 5);
    for (std::size_t i = 0; i < 5; ++i) {
        const double bow = unit.bow_per_volt * nodes[i] * nodes[i];
        // What has to be taken away, seen from the volts that are heard; a piece's touching notes
        // leave an eighth of the piece's bow.
        CHECK_THAT(table->add_volts[i], WithinAbs(-bow, 0.1 * bow + 0.0009));
    }
}
