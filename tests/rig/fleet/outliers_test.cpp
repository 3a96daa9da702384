// Which unit is odd, and in what.

#include "rig/fleet/outliers.hpp"

#include <catch2/catch.hpp>

#include "tests/rig/fleet/synthetic.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

/// A fleet of ordinary units, of which number 5 is changed.
outliers_found with_odd_unit(const std::function<void(true_unit&)>& change, int units = 20) {
    std::mt19937_64 random{41};
    std::vector<tracking_record> records;
    for (int i = 1; i <= units; ++i) {
        auto truth = normal_unit(random);
        if (i == 5) change(truth);
        records.push_back(record_of_unit(truth, {.unit = std::to_string(i)}, random));
    }
    return find_outliers(select(records, {}));
}

bool names(const outliers_found& found, trait what) {
    return std::ranges::any_of(found.outliers, [&](const outlier& o) { return o.what == what; });
}

}  // namespace

TEST_CASE("odd units: a unit with a knee is named, with where and what that points to", "[fleet]") {
    const auto found = with_odd_unit([](true_unit& u) {
        u.knee_volts = 2.0;
        u.knee_cents_per_volt = 5.0;
    });
    REQUIRE(names(found, trait::straightness));
    for (const auto& o : found.outliers) CHECK(o.unit == "5");
    const auto bend = *std::ranges::find(found.outliers, trait::straightness, &outlier::what);
    CHECK_THAT(bend.at_volts, WithinAbs(2.0, 0.01));
    CHECK_THAT(bend.points_to, Contains("knee"));
    // A knee of slope s at the middle of a range of length L departs from its best line by s L / 8 or
    // a little less, worked out by hand for evenly spread notes.
    CHECK_THAT(bend.cents, WithinAbs(5.0 * 4.0 / 8.0, 0.8));
}

TEST_CASE("odd units: what is out by itself points to its part of the circuit", "[fleet]") {
    struct row {
        trait what;
        std::function<void(true_unit&)> change;
        std::string part;
    };
    const auto r = GENERATE(
        row{trait::gain, [](true_unit& u) { u.gain_cents_per_octave += 20.0; }, "divider"},
        row{trait::offset, [](true_unit& u) { u.offset_cents += 25.0; }, "op-amp"},
        row{trait::hysteresis, [](true_unit& u) { u.hysteresis_cents = 0.5; }, "dielectric"},
        row{trait::straightness,
            [](true_unit& u) {
                u.knee_volts = 3.5;
                u.knee_cents_per_volt = -40.0;
            },
            "clipping"});
    const auto found = with_odd_unit(r.change);
    CAPTURE(in_words(r.what));
    REQUIRE(names(found, r.what));
    const auto o = *std::ranges::find(found.outliers, r.what, &outlier::what);
    CHECK(o.unit == "5");
    CHECK_THAT(o.points_to, Contains(r.part));
    CHECK(o.score > found.threshold);
}

TEST_CASE("odd units: a unit that is out in two things points to nothing", "[fleet]") {
    const auto found = with_odd_unit([](true_unit& u) {
        u.gain_cents_per_octave += 20.0;
        u.offset_cents += 25.0;
    });
    REQUIRE(found.outliers.size() == 2);
    for (const auto& o : found.outliers) CHECK(o.points_to.empty());
}

// 300 fleets of 20 ordinary units: each of the five traits names an innocent unit in about 1 % of
// fleets, so about 5 % of fleets have one; 10 % is what the skew of bend and scatter may add.
TEST_CASE("odd units: in a fleet of ordinary units hardly ever one is named", "[fleet]") {
    std::mt19937_64 random{43};
    int fleets_with_one = 0;
    for (int i = 0; i < 300; ++i)
        fleets_with_one +=
            !find_outliers(select(fleet_of(normal_unit, 20, random), {})).outliers.empty();
    CAPTURE(fleets_with_one);
    CHECK(fleets_with_one <= 30);
}

TEST_CASE("odd units: two humps are no outliers", "[fleet]") {
    std::mt19937_64 random{47};
    const auto found = find_outliers(select(fleet_of(two_humped, 30, random), {}));
    CHECK_FALSE(names(found, trait::gain));
    CHECK_FALSE(names(found, trait::offset));
}

TEST_CASE("odd units: among seven nobody is called odd", "[fleet]") {
    const auto found = with_odd_unit([](true_unit& u) { u.gain_cents_per_octave += 200.0; }, 7);
    CHECK(found.outliers.empty());
    CHECK_THAT(found.why_not, Contains("Among 7 units"));
}

TEST_CASE("odd units: what a reading's own uncertainty explains is not odd", "[fleet]") {
    std::mt19937_64 random{53};
    std::vector<tracking_record> records;
    for (int i = 1; i <= 20; ++i) {
        const bool loud = i == 5;
        records.push_back(
            record_of_unit({.offset_cents = loud ? 1.0 : 0.0},
                           {.unit = std::to_string(i), .noise_cents = loud ? 5.0 : 0.01}, random));
    }
    const auto found = find_outliers(select(records, {}));
    CHECK_FALSE(names(found, trait::offset));
    CHECK(names(found, trait::scatter));
}

TEST_CASE("odd units: a unit on another bench is not odd by that bench's own error", "[fleet]") {
    std::mt19937_64 random{59};
    std::vector<tracking_record> records;
    for (int i = 1; i <= 20; ++i)
        records.push_back(record_of_unit(
            {.offset_cents = i == 5 ? 2.0 : 0.02 * (i % 3)},
            {.unit = std::to_string(i), .bench = i == 5 ? "other" : "desk", .u_common_cents = 1.0},
            random));
    CHECK_FALSE(names(find_outliers(select(records, {})), trait::offset));
    for (auto& r : records) r.bench = std::string{"desk"};
    CHECK(names(find_outliers(select(records, {})), trait::offset));
}

TEST_CASE("odd units: what nobody hears is not odd", "[fleet]") {
    std::mt19937_64 random{61};
    std::vector<tracking_record> records;
    for (int i = 1; i <= 20; ++i)
        records.push_back(record_of_unit({.offset_cents = i == 5 ? 0.09 : 0.0},
                                         {.unit = std::to_string(i), .noise_cents = 0.001},
                                         random));
    CHECK(find_outliers(select(records, {})).outliers.empty());
    for (auto& n : records[4].notes) n.error_cents += 0.04;
    CHECK(names(find_outliers(select(records, {})), trait::offset));
}
