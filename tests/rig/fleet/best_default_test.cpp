// Which default constants are best for the units at hand.

#include "rig/fleet/best_default.hpp"

#include <catch2/catch.hpp>

#include "tests/rig/fleet/synthetic.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::WithinAbs;

namespace {

constexpr std::array limits{3.0, 5.0, 10.0};

fleet_selection fleet(const std::vector<true_unit>& units, double noise_cents = 0.0,
                      double u_common_cents = 0.0) {
    std::mt19937_64 random{23};
    std::vector<tracking_record> records;
    for (std::size_t i = 0; i < units.size(); ++i)
        records.push_back(record_of_unit(units[i],
                                         {.unit = std::to_string(i + 1),
                                          .noise_cents = noise_cents,
                                          .u_common_cents = u_common_cents},
                                         random));
    return select(records, {});
}

double error_at(const default_choice& d, const fleet_selection& s, std::size_t unit, double volts) {
    return d.change.error_after(volts, s.units[unit].traits.line_at(volts), 1.0);
}

std::vector<default_choice> compared(const fleet_selection& s) {
    auto found = compare_defaults(s, limits, 2.0);
    REQUIRE(found);
    return std::move(*found);
}

}  // namespace

// Outside check, worked out by hand: units sound (1 + a) V and (1 + b) V for V volts, a > b, pure errors
// of gain. Three notes touch: 0 V is too high by t, the first unit at 4 V too high by t, the second too
// low by t. So offset = t, offset + gain 4 (1 + a) = 4 + t, offset + gain 4 (1 + b) = 4 - t: gain is
// 1 / (1 + a) and t = 2 (a - b) / (1 + a).
TEST_CASE("best default: two errors of gain share their error with the low end", "[fleet]") {
    const auto s = fleet({{.gain_cents_per_octave = 12.0}, {.gain_cents_per_octave = -6.0}});
    const auto defaults = compared(s);
    const double a = 12.0 / 1200.0;
    const double b = -6.0 / 1200.0;
    const auto& d = defaults[1];
    CHECK_THAT(d.change.gain, WithinAbs(1.0 / (1.0 + a), 1e-9));
    CHECK_THAT(d.change.offset_volts, WithinAbs(2.0 * (a - b) / (1.0 + a), 1e-9));
    CHECK_THAT(d.worst_cents(), WithinAbs(2400.0 * (a - b) / (1.0 + a), 1e-6));
    CHECK(d.held_by == std::vector<std::string>{"1", "2"});
    CHECK_THAT(defaults[0].worst_cents(), WithinAbs(48.0, 1e-6));
}

TEST_CASE("best default: no other line has a smaller worst error than the minimax one", "[fleet]") {
    std::mt19937_64 random{29};
    for (int fleet_number = 0; fleet_number < 5; ++fleet_number) {
        const auto records = fleet_of(two_humped, 12, random);
        const auto s = select(records, {});
        const auto d = compared(s)[1];
        std::normal_distribution<double> step{0.0, 1.0};
        for (int i = 0; i < 500; ++i) {
            const constants_change other{d.change.offset_volts + 1e-3 * step(random),
                                         d.change.gain + 1e-3 * step(random)};
            double worst = 0.0;
            for (const auto& u : s.units)
                worst = std::max(worst, std::abs(worst_of(u, other, 1.0).error_cents));
            REQUIRE(worst >= d.worst_cents() - 1e-6);
        }
    }
}

TEST_CASE("best default: the median one puts the middle unit right at both ends", "[fleet]") {
    const auto s = fleet({{.gain_cents_per_octave = -3.0, .offset_cents = 2.0},
                          {.gain_cents_per_octave = 1.0, .offset_cents = 5.0},
                          {.gain_cents_per_octave = 90.0, .offset_cents = 300.0}});
    const auto d = compared(s)[2];
    // At 0 V the middle is unit 2, at 4 V too: -10, 9 and 660 cents.
    CHECK_THAT(error_at(d, s, 1, 0.0), WithinAbs(0.0, 1e-9));
    CHECK_THAT(error_at(d, s, 1, 4.0), WithinAbs(0.0, 1e-9));
}

TEST_CASE("best default: one odd unit moves the minimax one and not the median one", "[fleet]") {
    std::vector<true_unit> units;
    for (int i = -4; i <= 4; ++i)
        units.push_back({.gain_cents_per_octave = 0.5 * i, .offset_cents = 0.3 * i});
    const auto before = compared(fleet(units));
    units.back().gain_cents_per_octave = 50.0;
    const auto after = compared(fleet(units));
    CHECK_THAT(after[2].change.gain, WithinAbs(before[2].change.gain, 1e-9));
    CHECK(std::abs(after[1].change.gain - before[1].change.gain) > 0.01);
}

TEST_CASE("best default: constants are told where those in force are known", "[fleet]") {
    std::mt19937_64 random{31};
    auto records = fleet_of(normal_unit, 4, random);
    CHECK_FALSE(compared(select(records, {}))[1].constants);
    const pitch_constants standard{-0.05, 0.00125};
    for (auto& r : records) r.constants = standard;
    const auto defaults = compared(select(records, {}));
    CHECK(defaults[0].constants == standard);
    const auto& d = defaults[1];
    REQUIRE(d.constants);
    CHECK_THAT(d.constants->gain_volts_per_code, WithinAbs(0.00125 * d.change.gain, 1e-15));
    CHECK_THAT(d.constants->offset_volts,
               WithinAbs(d.change.offset_volts - 0.05 * d.change.gain, 1e-12));
}

TEST_CASE("best default: a unit closer to the limit than its uncertainty counts as neither",
          "[fleet]") {
    const auto s = fleet({{.offset_cents = 4.0},
                          {.offset_cents = 4.8},
                          {.offset_cents = 5.2},
                          {.offset_cents = 6.0}},
                         0.0, 0.25);
    const auto& kept = compared(s)[0].kept[1];
    CHECK(kept.limit_cents == 5.0);
    CHECK(kept.within == 1);
    CHECK(kept.undecided == 2);
    CHECK(kept.outside == 1);
}

TEST_CASE("best default: every unit is judged unseen by the default of the others", "[fleet]") {
    std::mt19937_64 random{37};
    const auto records = fleet_of(two_humped, 6, random);
    const auto s = select(records, {});
    const auto d = compared(s)[1];
    REQUIRE(d.worst_unseen.size() == 6);
    for (std::size_t i = 0; i < 6; ++i) {
        auto others = records;
        others.erase(others.begin() + static_cast<std::ptrdiff_t>(i));
        const auto chosen = minimax_default(select(others, {}).units, 1.0);
        REQUIRE(chosen);
        CHECK_THAT(d.worst_unseen[i].error_cents,
                   WithinAbs(worst_of(s.units[i], chosen->change, 1.0).error_cents, 1e-6));
        // Who helped to choose can only be better off.
        CHECK(std::abs(d.worst_unseen[i].error_cents) >= std::abs(d.worst[i].error_cents) - 1e-6);
    }
}

TEST_CASE("best default: it takes two units, and three to say what unseen ones do", "[fleet]") {
    CHECK_FALSE(compare_defaults(fleet({{}}), limits, 2.0));
    const auto two = compared(fleet({{.offset_cents = 1.0}, {}}));
    CHECK(two[1].kept_unseen.empty());
    CHECK_FALSE(compared(fleet({{.offset_cents = 1.0}, {}, {}}))[1].kept_unseen.empty());
}
