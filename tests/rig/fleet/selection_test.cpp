// Which records answer.

#include "rig/fleet/selection.hpp"

#include <catch2/catch.hpp>

#include "rig/expectations/user_error.hpp"
#include "rig/fleet/default_records.hpp"
#include "tests/rig/fleet/synthetic.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

std::mt19937_64 random_numbers{17};

tracking_record made(const circumstances& c, double gain = 0.0) {
    return record_of_unit({.gain_cents_per_octave = gain}, c, random_numbers);
}

bool says(const fleet_selection& s, const std::string& text) {
    return std::ranges::any_of(s.remarks, [&](const std::string& remark) {
        return remark.find(text) != std::string::npos;
    });
}

}  // namespace

TEST_CASE("selection: of each unit the latest record counts, however its number is written",
          "[fleet]") {
    const std::vector<tracking_record> records{
        made({.unit = "0007", .started = "2026-01-03T00:00:00Z"}, 3.0),
        made({.unit = "7", .started = "2026-01-01T00:00:00Z"}, 1.0),
        made({.unit = "8", .started = "2026-01-02T00:00:00Z"}, 2.0)};
    const auto s = select(records, {});
    REQUIRE(s.units.size() == 2);
    CHECK(s.units[0].name == "0007");
    CHECK_THAT(s.units[0].traits.gain.cents, WithinAbs(3.0, 0.05));
    CHECK(s.units[1].name == "8");
    CHECK(s.remarks.empty());
    CHECK_THAT(s.low_volts, WithinAbs(0.0, 1e-12));
    CHECK_THAT(s.high_volts, WithinAbs(4.0, 1e-12));
}

TEST_CASE("selection: unknown constants are taken for the default, and that is said", "[fleet]") {
    const std::vector<tracking_record> records{
        made({.unit = "1"}), made({.unit = "2", .in_force = constants_in_force::unknown})};
    const auto s = select(records, {});
    CHECK(s.units.size() == 2);
    CHECK(says(s, "Nobody said whose constants were in force on unit 2"));
}

TEST_CASE("selection: own constants of unknown numbers tell nothing of the default", "[fleet]") {
    const std::vector<tracking_record> records{
        made({.unit = "1"}), made({.unit = "2", .in_force = constants_in_force::own}),
        made({.unit = "3", .started = "2026-01-01T00:00:00Z"}, 5.0),
        made(
            {.unit = "3", .started = "2026-01-02T00:00:00Z", .in_force = constants_in_force::own})};
    const auto s = select(records, {});
    REQUIRE(s.units.size() == 2);
    CHECK_THAT(s.units[1].traits.gain.cents, WithinAbs(5.0, 0.05));
    CHECK(says(s, "and left out: unit 2."));
}

TEST_CASE("selection: with known numbers a calibrated unit tells what the default would do",
          "[fleet]") {
    const pitch_constants standard{0.0, 0.001};
    // 0.5 % more gain a code: the calibrated unit sounds right, with the default 6 cents an octave
    // flat.
    const pitch_constants own{0.0, 0.001005};
    auto plain = made({.unit = "1"});
    plain.constants = standard;
    auto calibrated = made({.unit = "2", .noise_cents = 0.0}, 0.0);
    calibrated.in_force = constants_in_force::own;
    calibrated.constants = own;
    const auto s = select(std::vector{plain, calibrated}, {});
    REQUIRE(s.units.size() == 2);
    CHECK(s.units[1].is_converted);
    CHECK_THAT(s.units[1].traits.gain.cents, WithinAbs(1200.0 * (1.0 / 1.005 - 1.0), 1e-6));
    CHECK(says(s, "Measured under other constants: unit 2"));
    CHECK(s.default_constants == standard);
}

TEST_CASE("selection: what was measured is taken before what is reckoned", "[fleet]") {
    auto measured = made({.unit = "1", .started = "2026-01-01T00:00:00Z"}, 4.0);
    measured.constants = pitch_constants{0.0, 0.001};
    auto calibrated = made({.unit = "1", .started = "2026-01-02T00:00:00Z"}, 0.0);
    calibrated.in_force = constants_in_force::own;
    calibrated.constants = pitch_constants{0.0, 0.00101};
    const auto s = select(std::vector{measured, calibrated, made({.unit = "2"})}, {});
    CHECK_FALSE(s.units[0].is_converted);
    CHECK_THAT(s.units[0].traits.gain.cents, WithinAbs(4.0, 0.05));
}

TEST_CASE("selection: consoles that disagree where nobody said whose constants are left out",
          "[fleet]") {
    std::vector<tracking_record> records;
    for (int i = 1; i <= 3; ++i) {
        records.push_back(
            made({.unit = std::to_string(i), .in_force = constants_in_force::unknown}));
        records.back().constants = pitch_constants{0.0, 0.001 + 1e-6 * i};
    }
    const auto s = select(records, {});
    CHECK(s.units.empty());
    CHECK(says(s, "nobody said which are the default"));
}

TEST_CASE("selection: the settings are those of the most units, unless asked", "[fleet]") {
    std::vector<tracking_record> records{made({.unit = "1"}), made({.unit = "2"})};
    records.push_back(made({.unit = "1"}));
    records.back().choice["mode"] = "wide";
    CHECK(select(records, {}).choice.at("mode") == "tied");
    CHECK(select(records, {.settings = {{"mode", "wide"}}}).choice.at("mode") == "wide");
    CHECK_THROWS_WITH(select(records, {.settings = {{"mode", "wild"}}}), Contains("mode wild"));
}

TEST_CASE("selection: the build is the latest that was measured on enough units, unless asked",
          "[fleet]") {
    std::vector<tracking_record> records;
    for (int i = 1; i <= 4; ++i)
        records.push_back(made({.unit = std::to_string(i), .build = "1.0"}));
    for (int i = 1; i <= 2; ++i)
        records.push_back(made(
            {.unit = std::to_string(i), .build = "0.9-fix", .started = "2026-02-01T00:00:00Z"}));
    records.push_back(made({.unit = "1", .build = "2.0", .started = "2026-03-01T00:00:00Z"}));
    const auto s = select(records, {});
    CHECK(s.builds == std::vector<std::string>{"1.0", "0.9-fix", "2.0"});
    CHECK(s.build == "0.9-fix");
    CHECK(select(records, {.build = "2.0"}).units.size() == 1);
    CHECK_THROWS_WITH(select(records, {.build = "3.0"}), Contains("'3.0'") && Contains("2.0"));
}

TEST_CASE("selection: records of two modules are refused", "[fleet]") {
    auto other = made({});
    other.module = std::string{"Thimble"};
    CHECK_THROWS_WITH(select(std::vector{made({}), other}, {}), Contains("Ferrule and Thimble"));
}

TEST_CASE("selection: another pitch law is left out and stairs without a common range are refused",
          "[fleet]") {
    auto other = made({.unit = "2", .started = "2025-01-01T00:00:00Z"});
    other.volts_per_octave = 1.2;
    const auto s = select(std::vector{made({.unit = "1"}), other}, {});
    CHECK(s.units.size() == 1);
    CHECK(says(s, "another pitch law"));
    auto high = made({.unit = "3"});
    for (auto& n : high.notes) n.at_volts += 5.0;
    CHECK_THROWS_AS(select(std::vector{made({.unit = "1"}), high}, {}), user_error);
}
