#include "analysis/change_point.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

using namespace cvrig::analysis;

namespace {

std::vector<double> zeros(std::size_t n) {
    return std::vector<double>(n, 0.0);
}

std::vector<change_point> changes_of(const std::vector<double>& x, const std::vector<double>& u) {
    const auto found = change_points(x, u);
    REQUIRE(found);
    return *found;
}

// Annual flow of the Nile at Aswan, 1871 to 1970, in 1e8 cubic metres: Cobb 1978, "The problem of
// the Nile: conditional solution to a changepoint problem", Biometrika 65, table 1.
const std::vector<double> nile{
    1120, 1160, 963, 1210, 1160, 1160, 813,  1230, 1370, 1140, 995,  935,  1110, 994,  1020,
    960,  1180, 799, 958,  1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774,  840,
    874,  694,  940, 833,  701,  916,  692,  1020, 1050, 969,  831,  726,  456,  824,  702,
    1120, 1100, 832, 764,  821,  768,  845,  864,  862,  698,  845,  744,  796,  1040, 759,
    781,  865,  845, 944,  984,  897,  822,  1010, 771,  676,  649,  846,  812,  742,  801,
    1040, 860,  874, 848,  890,  744,  749,  838,  1050, 918,  986,  797,  923,  975,  815,
    1020, 906,  901, 1170, 912,  746,  919,  718,  714,  740};

}  // namespace

TEST_CASE("change points: the Nile's flow fell after 1898, from 1097.75 to 849.97",
          "[change_point]") {
    // Cobb 1978 and later authors place the change after 1898, the 28th year; the two means are arithmetic.
    REQUIRE(nile.size() == 100);
    const auto found = changes_of(nile, zeros(nile.size()));
    REQUIRE(found.size() == 1);
    CHECK(found[0].first_after == 28);
    CHECK_THAT(found[0].before, Catch::WithinAbs(1097.75, 0.005));
    CHECK_THAT(found[0].after, Catch::WithinAbs(849.97, 0.005));
    CHECK(found[0].p < 1e-9);
}

TEST_CASE("change points: each of two steps is found where it was made", "[change_point]") {
    std::mt19937 random{7};
    std::normal_distribution<double> noise{0.0, 0.1};
    std::vector<double> x;
    for (int i = 0; i < 60; ++i) x.push_back((i < 20 ? 3.0 : i < 45 ? 4.0 : 2.5) + noise(random));
    const auto found = changes_of(x, std::vector<double>(x.size(), 0.1));
    REQUIRE(found.size() == 2);
    CHECK(found[0].first_after == 20);
    CHECK(found[1].first_after == 45);
    CHECK_THAT(found[1].before, Catch::WithinAbs(4.0, 0.1));
    CHECK(found[1].before == found[0].after);
}

TEST_CASE("change points: the last build alone can be one", "[change_point]") {
    std::vector<double> x{3.1, 3.12, 3.09, 3.11, 3.1, 3.08, 3.12, 7.4};
    const auto found = changes_of(x, std::vector<double>(x.size(), 0.05));
    REQUIRE(found.size() == 1);
    CHECK(found[0].first_after == 7);
    CHECK_THAT(found[0].after, Catch::WithinAbs(7.4, 1e-12));
}

TEST_CASE("change points: a step that the stated uncertainty explains is none", "[change_point]") {
    // A program gives the same number every time: its scatter says nothing of what it is worth.
    std::vector<double> x(10, 3.10);
    for (std::size_t i = 5; i < x.size(); ++i) x[i] = 3.12;
    CHECK(changes_of(x, std::vector<double>(x.size(), 0.05)).empty());
    CHECK(changes_of(x, std::vector<double>(x.size(), 0.001)).size() == 1);
}

TEST_CASE("change points: in series without one, as many are told as the significance allows",
          "[change_point]") {
    std::mt19937 random{20261130};
    std::normal_distribution<double> noise{0.0, 1.0};
    constexpr int series = 2000, length = 30;
    int told = 0;
    for (int s = 0; s < series; ++s) {
        std::vector<double> x(length);
        for (auto& one : x) one = noise(random);
        const auto found = change_points(x, zeros(length), 0.05);
        REQUIRE(found);
        if (!found->empty()) ++told;
    }
    // The bound is an upper one: 5 % and three standard deviations of such a count.
    CHECK(told <= static_cast<int>(series * 0.05 + 3.0 * std::sqrt(series * 0.05 * 0.95)));
    CHECK(told > 0);
}

TEST_CASE("change points: equal readings, one reading and none hold no change", "[change_point]") {
    CHECK(changes_of(std::vector<double>(50, 2.0), zeros(50)).empty());
    CHECK(changes_of({1.0}, {0.0}).empty());
    CHECK(changes_of({1.0, 9.0}, {0.0, 0.0}).empty());
    CHECK(changes_of({}, {}).empty());
}

TEST_CASE("change points: neither the unit nor a large offset matters", "[change_point]") {
    std::vector<double> x = nile;
    for (auto& one : x) one = 1e9 + 1e-3 * one;
    const auto found = changes_of(x, zeros(x.size()));
    REQUIRE(found.size() == 1);
    CHECK(found[0].first_after == 28);
}

TEST_CASE("change points: what is not finite, or no series, is refused", "[change_point]") {
    CHECK(change_points(std::vector<double>{1.0, std::nan("")}, zeros(2)).error() ==
          refusal::not_finite);
    CHECK(change_points(std::vector<double>{1.0, 2.0}, zeros(1)).error() == refusal::bad_argument);
    CHECK(change_points(std::vector<double>{1.0, 2.0}, zeros(2), 0.0).error() ==
          refusal::bad_argument);
}
