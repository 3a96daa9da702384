// What builds do to units.

#include <catch2/catch.hpp>

#include "rig/fleet/build_change.hpp"
#include "rig/fleet/unit_or_build.hpp"
#include "tests/rig/fleet/synthetic.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using says = build_change::verdict;

namespace {

struct two_builds {
    int units{6};
    double shift_per_volt{0.0};  ///< what the second build adds
    double scatter_of_shift{0.0};
    constants_in_force in_force{constants_in_force::own};
    std::string second_bench{"desk"};
    double u_common_cents{0.0};
};

std::vector<tracking_record> measured(const two_builds& how, std::uint64_t seed = 61) {
    std::mt19937_64 random{seed};
    std::normal_distribution<double> normal{0.0, 1.0};
    std::vector<tracking_record> records;
    for (int i = 1; i <= how.units; ++i) {
        auto truth = normal_unit(random);
        circumstances c{.unit = std::to_string(i),
                        .in_force = how.in_force,
                        .u_common_cents = how.u_common_cents};
        records.push_back(record_of_unit(truth, c, random));
        truth.gain_cents_per_octave += how.shift_per_volt + how.scatter_of_shift * normal(random);
        c.build = std::string{"1.1"};
        c.started = std::string{"2026-02-01T00:00:00Z"};
        c.bench = how.second_bench;
        records.push_back(record_of_unit(truth, c, random));
    }
    return records;
}

build_change change_of(const std::vector<tracking_record>& records, double limit = 5.0) {
    const auto all = find_build_changes(select(records, {}), limit, 2.0);
    REQUIRE(all.size() == 1);
    return all.front();
}

}  // namespace

TEST_CASE("builds: a shift beyond the limit makes every user calibrate again", "[fleet]") {
    const auto c = change_of(measured({.shift_per_volt = 2.05}));
    CHECK(c.from == "1.0");
    CHECK(c.to == "1.1");
    CHECK(c.says == says::calibrate);
    CHECK(c.under_own);
    CHECK(c.units.size() == 6);
    REQUIRE(c.ends.size() == 2);
    CHECK_THAT(c.ends[0].mean_cents, WithinAbs(0.0, 0.05));
    CHECK_THAT(c.ends[1].mean_cents, WithinAbs(8.2, 0.05));
    CHECK(c.ends[1].low_cents < 8.2 + 0.02);
    CHECK(c.ends[1].high_cents > 8.2 - 0.02);
}

TEST_CASE("builds: no shift leaves everybody in peace", "[fleet]") {
    const auto c = change_of(measured({}));
    CHECK(c.says == says::none);
    CHECK(c.moved == 0);
}

TEST_CASE("builds: units that move apart are not hidden by their mean", "[fleet]") {
    const auto c = change_of(measured({.units = 12, .scatter_of_shift = 1.5}));
    CHECK(c.says == says::some);
    CHECK(c.moved > 0);
    CHECK(c.moved < 12);
}

TEST_CASE("builds: near the limit it cannot be told", "[fleet]") {
    // On two benches whose common error is as large as what is asked.
    const auto c = change_of(
        measured({.shift_per_volt = 1.0, .second_bench = "other", .u_common_cents = 1.0}));
    CHECK(c.says == says::cannot_tell);
    CHECK_FALSE(c.why.empty());
}

TEST_CASE("builds: two benches that differ are no new build", "[fleet]") {
    // The second bench hears all alike 3 cents higher, and each is known to 1.2 cents.
    auto records = measured({.units = 20, .second_bench = "other", .u_common_cents = 1.2});
    for (auto& r : records)
        if (r.bench == "other")
            for (auto& n : r.notes) n.error_cents += 3.0;
    const auto c = change_of(records, 2.0);
    CHECK(c.says == says::cannot_tell);
    CHECK_THAT(c.why, Contains("different benches") && Contains("3.4 cent"));
    // Two times the root of the sum of 1.2² and 1.2², for one unit as for twenty.
    CHECK_THAT(c.benches_cents, WithinAbs(3.394, 0.001));
    CHECK(c.ends[1].low_cents <= 0.0);
    // Far beyond what benches may differ by it can be told.
    for (auto& r : records)
        if (r.bench == "other")
            for (auto& n : r.notes) n.error_cents += 4.0;
    CHECK(change_of(records, 2.0).says == says::calibrate);
    // On one bench its error is the same both times.
    for (auto& r : records) {
        if (r.bench == "other")
            for (auto& n : r.notes) n.error_cents -= 4.0;
        r.bench = "desk";
    }
    const auto same = change_of(records, 2.0);
    CHECK(same.says == says::calibrate);
    CHECK_THAT(same.benches_cents, WithinAbs(0.0, 1e-12));
    // A bench without a name may be any.
    for (auto& r : records) r.bench.clear();
    CHECK(change_of(records, 2.0).says == says::cannot_tell);
}

namespace {

/// Each unit was calibrated with the new build: what that moved is gone from the later record.
std::vector<tracking_record> calibrated_again(const char* unit_told_as = "") {
    auto records = measured({.units = 4});
    std::vector<tracking_record> more;
    for (auto& r : records) {
        if (r.build != "1.1") continue;
        auto after = r;
        after.unit = unit_told_as + after.unit;
        after.occasion = "after calibration";
        after.started = "2026-01-20T00:00:00Z";
        after.choice = {{"mode", "struck"}};  // of what is judged there is none
        more.push_back(after);
    }
    records.insert(records.end(), more.begin(), more.end());
    return records;
}

build_change of_mode_tied(const std::vector<tracking_record>& records) {
    const auto all =
        find_build_changes(select(records, {.settings = {{"mode", "tied"}}}), 5.0, 2.0);
    REQUIRE(all.size() == 1);
    return all.front();
}

}  // namespace

TEST_CASE("builds: a unit that was calibrated in between cannot tell what a build moved",
          "[fleet]") {
    auto records = calibrated_again("0");
    auto c = of_mode_tied(records);
    CHECK(c.says == says::cannot_tell);
    CHECK(c.calibrated_between.size() == 4);
    CHECK_THAT(c.why, Contains("4 units were calibrated between the two"));
    SECTION("unless the constants are told as numbers") {
        for (auto& r : records) r.constants = pitch_constants{0.0, 0.001};
        c = of_mode_tied(records);
        CHECK(c.reckoned);
        CHECK(c.says == says::none);
        CHECK(c.calibrated_between.empty());
    }
    SECTION("the calibration of another unit is none of its own") {
        for (auto& r : records)
            if (r.occasion != "run") r.unit = "9" + r.unit;
        CHECK(of_mode_tied(records).says == says::none);
    }
    SECTION("one before both, or after both, does not matter") {
        for (auto& r : records)
            if (r.occasion != "run")
                r.started = r.unit == "01" ? "2025-01-01T00:00:00Z" : "2026-03-01T00:00:00Z";
        CHECK(of_mode_tied(records).says == says::none);
    }
    SECTION("nor under the default, which a build brings along") {
        for (auto& r : records) r.in_force = constants_in_force::by_default;
        CHECK(of_mode_tied(records).says == says::none);
    }
}

TEST_CASE("builds: a record made after calibrating is that of a calibrated unit", "[fleet]") {
    auto records = measured({.units = 4});
    for (auto& r : records)
        if (r.build == "1.1") r.occasion = "after calibration";
    CHECK(change_of(records).says == says::cannot_tell);
    // Its twin of the same run, from before, can tell.
    const auto after = records;
    for (auto r : after) {
        if (r.build != "1.1") continue;
        r.occasion = "before calibration";
        for (auto& n : r.notes) n.error_cents += 8.0;
        records.push_back(r);
    }
    const auto c = change_of(records);
    CHECK(c.says == says::calibrate);
    CHECK_THAT(c.ends[0].mean_cents, WithinAbs(8.0, 0.05));
    // Whoever calibrated with the old build is calibrated from then on.
    for (auto& r : records) {
        if (r.build == "1.0") r.occasion = "after calibration";
        if (r.build == "1.1") r.occasion = "run";
    }
    CHECK(change_of(records).calibrated_between.empty());
}

TEST_CASE("builds: one unit, or none in common, is too few", "[fleet]") {
    auto records = measured({.units = 1, .shift_per_volt = 10.0});
    auto c = change_of(records);
    CHECK(c.says == says::cannot_tell);
    CHECK(c.ends.empty());
    CHECK_THAT(c.why, Contains("Only one unit"));
    records[1].unit = std::string{"2"};
    CHECK_THAT(change_of(records).why, Contains("No unit"));
}

TEST_CASE("builds: own constants and default ones are never compared with each other", "[fleet]") {
    auto records = measured({.units = 4, .shift_per_volt = 10.0});
    for (auto& r : records)
        if (r.build == "1.1") r.in_force = constants_in_force::by_default;
    CHECK_THAT(change_of(records).why, Contains("No unit"));
    const auto c = change_of(
        measured({.units = 4, .shift_per_volt = 10.0, .in_force = constants_in_force::by_default}));
    CHECK(c.says == says::calibrate);
    CHECK_FALSE(c.under_own);
}

TEST_CASE("builds: a new default whose numbers are known is no change of codes", "[fleet]") {
    auto records = measured({.in_force = constants_in_force::by_default});
    const pitch_constants before{0.0, 0.001};
    const pitch_constants after{0.002, 0.00101};
    for (auto& r : records) {
        r.constants = before;
        if (r.build == "1.0") continue;
        r.notes = notes_after(r.notes, change_between(before, after), 1.0);
        r.constants = after;
    }
    const auto c = change_of(records);
    CHECK(c.reckoned);
    CHECK(c.says == says::none);
    for (auto& r : records) r.constants.reset();
    CHECK(change_of(records).says == says::calibrate);
}

// 400 pairs of builds with 5 units; Student's interval for exactly normal shifts: 95 %, give or take
// 1.1 %, of which two are allowed.
TEST_CASE("builds: the interval of the mean shift holds the truth as often as it says", "[fleet]") {
    int held = 0;
    for (std::uint64_t i = 0; i < 400; ++i) {
        const auto c = change_of(
            measured({.units = 5, .shift_per_volt = 0.5, .scatter_of_shift = 0.5}, 1000 + i));
        held += c.ends.at(1).low_cents <= 2.0 && c.ends.at(1).high_cents >= 2.0;
    }
    CAPTURE(held);
    CHECK(std::abs(held - 380) <= 9);
}

TEST_CASE("unit or build: a scatter of units is not blamed on builds", "[fleet]") {
    std::mt19937_64 random{67};
    std::vector<tracking_record> records;
    for (int i = 1; i <= 12; ++i) {
        const auto truth = normal_unit(random);
        for (const char* build : {"1.0", "1.1", "1.2"})
            for (const char* day : {"01", "02"})
                records.push_back(record_of_unit(
                    truth,
                    {.unit = std::to_string(i),
                     .build = build,
                     .started = std::string{"2026-01-"} + day + "T00:00:0" + build[2] + "Z",
                     .noise_cents = 0.1},
                    random));
    }
    const auto found = tell_unit_from_build(select(records, {}));
    CHECK(found.records == 72);
    CHECK(found.repeats);
    CHECK(found.builds_told);
    REQUIRE(found.sources.size() == 3);
    const auto& gain = found.sources[0];
    CHECK(gain.what == trait::gain);
    // 1.2 cents an octave of 12 units are known to about 1 in sqrt(22).
    CHECK_THAT(gain.units.cents, WithinAbs(1.2, 0.6));
    CHECK(gain.units.share > 0.98);
    CHECK(gain.builds.share < 0.01);
    // Outside check: the standard uncertainty of a slope through 26 notes of 0.1 cent, by JCGM
    // 100:2008, H.3: sum of squares of the 26 voltages about their mean 2 * 182 / 9 = 40.4 V².
    CHECK_THAT(gain.rest.cents, WithinAbs(0.1 / std::sqrt(40.44), 0.004));
}

TEST_CASE("unit or build: a shift of builds is seen among the units", "[fleet]") {
    std::mt19937_64 random{71};
    std::vector<tracking_record> records;
    const std::array<double, 4> shifts{-6.0, 5.0, -4.0, 5.0};
    for (int i = 1; i <= 10; ++i) {
        auto truth = normal_unit(random);
        truth.offset_cents *= 0.1;
        for (std::size_t b = 0; b < shifts.size(); ++b) {
            auto now = truth;
            now.offset_cents += shifts[b];
            records.push_back(record_of_unit(
                now, {.unit = std::to_string(i), .build = std::to_string(b)}, random));
        }
    }
    const auto found = tell_unit_from_build(select(records, {}));
    REQUIRE(found.sources.size() == 3);
    CHECK(found.sources[1].builds.share > 0.9);
    CHECK(found.sources[0].units.share > 0.9);
}

TEST_CASE("unit or build: what cannot be told is said", "[fleet]") {
    std::mt19937_64 random{73};
    auto one_build = fleet_of(normal_unit, 5, random);
    auto found = tell_unit_from_build(select(one_build, {}));
    CHECK(found.sources.empty());
    CHECK_THAT(found.why_not, Contains("only one build"));
    const auto again = fleet_of(normal_unit, 5, random);
    one_build.insert(one_build.end(), again.begin(), again.end());
    found = tell_unit_from_build(select(one_build, {}));
    CHECK(found.sources.size() == 3);
    CHECK_FALSE(found.builds_told);
    CHECK_THAT(found.why_not, Contains("What builds add cannot be told"));
    const auto one_unit = fleet_of(normal_unit, 1, random);
    CHECK_THAT(tell_unit_from_build(select(one_unit, {})).why_not,
               Contains("fewer than two units"));
    auto confounded = fleet_of(normal_unit, 3, random);
    for (auto& r : confounded) r.build = r.unit;
    found = tell_unit_from_build(select(confounded, {.build = "1"}));
    CHECK(found.sources.empty());
    CHECK_FALSE(found.why_not.empty());
}
