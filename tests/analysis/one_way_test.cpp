#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

#include "analysis/variance_components.hpp"

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

struct grouped {
    std::vector<double> values;
    std::vector<std::size_t> group;

    void add(double v, std::size_t g) {
        values.push_back(v);
        group.push_back(g);
    }
};

}  // namespace

TEST_CASE("one way: the voltage standard of GUM H.5", "[analysis][variance_components]") {
    // JCGM 100:2008, H.5, Table H.9: daily means less 10 V and standard deviations of five readings,
    // microvolts (quoted from memory). Printed: s_a = 128, s_b = 85, s_B = 43, F = 2.25, degrees of
    // freedom 9 and 40; mean 10.000097 V with 18 microvolts. Five readings with just that mean and
    // deviation are -1, -1, 0, 1, 1 times it.
    const double means[] = {172, 116, 13, 144, 106, 31, 60, 125, 163, 41};
    const double deviations[] = {60, 77, 111, 101, 67, 93, 80, 73, 88, 86};
    grouped days;
    for (std::size_t day = 0; day < 10; ++day)
        for (const double step : {-1.0, -1.0, 0.0, 1.0, 1.0})
            days.add(means[day] + step * deviations[day], day);
    const auto r = measure_one_way(days.values, days.group, 10);
    REQUIRE(r);
    // Half the last printed digit; s_a is printed from a rounded s(V) of 57: 5 times 0.5 / 57.
    CHECK_THAT(std::sqrt(r->mean_square_between), WithinAbs(128, 1.2));
    CHECK_THAT(std::sqrt(r->mean_square_within), WithinAbs(85, 0.5));
    CHECK_THAT(r->f, WithinAbs(2.25, 0.05));
    CHECK_THAT(std::sqrt(r->between.variance), WithinAbs(43, 0.5));
    CHECK_THAT(r->mean, WithinAbs(97, 0.5));
    CHECK_THAT(r->u_mean, WithinAbs(18, 0.5));
    CHECK(r->freedom_between == 9);
    CHECK(r->freedom_within == 40);
    // H.5.2.2: F_0.95(9, 40) = 2.12 and F_0.975(9, 40) = 2.45 lie on either side.
    CHECK(r->probability < 0.05);
    CHECK(r->probability > 0.025);
    CHECK_FALSE(r->between_was_negative);
}

TEST_CASE("one way: the dyestuff of Davies and Goldsmith", "[analysis][variance_components]") {
    // O. L. Davies and P. L. Goldsmith 1972, Table 6.4 (data set Dyestuff of lme4): yields of six
    // batches; mean squares 11271.5 and 2451.25, batch variance 1764.05 (REML gives the same).
    const double yields[6][5] = {{1545, 1440, 1440, 1520, 1580}, {1540, 1555, 1490, 1560, 1495},
                                 {1595, 1550, 1605, 1510, 1560}, {1445, 1440, 1595, 1465, 1545},
                                 {1595, 1630, 1515, 1635, 1625}, {1520, 1455, 1450, 1480, 1445}};
    grouped batches;
    for (std::size_t b = 0; b < 6; ++b)
        for (const double y : yields[b]) batches.add(y, b);
    const auto r = measure_one_way(batches.values, batches.group, 6).value();
    CHECK_THAT(r.mean_square_between, WithinAbs(11271.5, 0.05));
    CHECK_THAT(r.mean_square_within, WithinAbs(2451.25, 0.005));
    CHECK_THAT(r.between.variance, WithinAbs(1764.05, 0.005));
    CHECK_THAT(r.mean, WithinAbs(1527.5, 1e-9));
    // lme4 prints the standard error of the intercept as 19.38.
    CHECK_THAT(r.u_mean, WithinAbs(19.38, 0.005));
    CHECK(r.between.lower < r.between.variance);
    CHECK(r.between.variance < r.between.upper);
    CHECK(r.within.lower < 2451.25);
    CHECK(2451.25 < r.within.upper);
}

TEST_CASE("one way: limits hold as often as they say", "[analysis][variance_components]") {
    struct scene {
        std::vector<std::size_t> sizes;
        double between;
    };
    const auto s = GENERATE(scene{{4, 4, 4, 4, 4}, 1.0}, scene{{2, 9, 3, 3, 5, 2, 7, 4}, 0.6},
                            scene{{3, 3, 3, 3, 3, 3}, 0.1}, scene{{5, 5, 5}, 3.0});
    CAPTURE(s.sizes.size(), s.between);
    std::mt19937_64 random{61};
    std::normal_distribution<double> normal;
    constexpr int trials = 4000;
    int between = 0, within = 0, mean = 0;
    for (int t = 0; t < trials; ++t) {
        grouped g;
        for (std::size_t i = 0; i < s.sizes.size(); ++i) {
            const double shift = s.between * normal(random);
            for (std::size_t k = 0; k < s.sizes[i]; ++k) g.add(5.0 + shift + normal(random), i);
        }
        const auto r = measure_one_way(g.values, g.group, s.sizes.size(), 0.9);
        REQUIRE(r);
        const double truth = s.between * s.between;
        between += r->between.lower <= truth && truth <= r->between.upper ? 1 : 0;
        within += r->within.lower <= 1.0 && 1.0 <= r->within.upper ? 1 : 0;
        mean += std::abs(r->mean - 5.0) <= 3.0 * r->u_mean ? 1 : 0;
    }
    CAPTURE(between, within, mean);
    // Four standard deviations of a share of 4000, and 2 % for the method between.
    CHECK_THAT(between / double{trials}, WithinAbs(0.9, 0.039));
    CHECK_THAT(within / double{trials}, WithinAbs(0.9, 0.019));
    CHECK(mean > 0.85 * trials);
}

TEST_CASE("one way: groups closer than their own scatter are given no scatter and a flag",
          "[analysis][variance_components]") {
    grouped g;
    for (std::size_t i = 0; i < 4; ++i)
        for (const double v : {-1.0, 0.0, 1.0}) g.add(v, i);
    const auto r = measure_one_way(g.values, g.group, 4).value();
    CHECK(r.between_was_negative);
    CHECK_THAT(r.between.variance, WithinAbs(0.0, 1e-300));
    CHECK_THAT(r.between.lower, WithinAbs(0.0, 1e-300));
    CHECK_THAT(r.probability, WithinAbs(1.0, 1e-12));
    CHECK_THAT(r.within.variance, WithinAbs(1.0, 1e-12));
}

TEST_CASE("one way: unequal groups follow the textbook estimator",
          "[analysis][variance_components]") {
    // By hand: groups {1, 3} and {4, 6, 8, 6}: within (2 + 8) / 4 = 2.5; grand mean 28 / 6; between
    // 2 (8/3)^2 + 4 (4/3)^2 = 64/3; n0 = 6 - 20 / 6 = 8/3.
    grouped g;
    for (const double v : {1.0, 3.0}) g.add(v, 0);
    for (const double v : {4.0, 6.0, 8.0, 6.0}) g.add(v, 1);
    const auto r = measure_one_way(g.values, g.group, 2).value();
    CHECK_THAT(r.mean_square_within, WithinRel(2.5, 1e-12));
    CHECK_THAT(r.mean_square_between, WithinRel(64.0 / 3.0, 1e-12));
    CHECK_THAT(r.between.variance, WithinRel((64.0 / 3.0 - 2.5) / (8.0 / 3.0), 1e-12));
}

TEST_CASE("one way: what cannot be estimated is refused", "[analysis][variance_components]") {
    const std::vector<double> v{1, 2, 3, 4};
    using groups = std::vector<std::size_t>;
    CHECK(measure_one_way(v, groups{0, 0, 0, 0}, 1).error() == refusal::too_short);
    CHECK(measure_one_way(v, groups{0, 1, 2, 3}, 4).error() == refusal::too_short);
    CHECK(measure_one_way(v, groups{0, 0, 2, 2}, 3).error() == refusal::bad_argument);
    CHECK(measure_one_way(v, groups{0, 0, 1}, 2).error() == refusal::bad_argument);
    CHECK(measure_one_way(v, groups{0, 0, 1, 2}, 2).error() == refusal::bad_argument);
    CHECK(measure_one_way(v, groups{0, 0, 1, 1}, 2, 0.0).error() == refusal::bad_argument);
    CHECK(measure_one_way(std::vector<double>{1, NAN, 2, 3}, groups{0, 0, 1, 1}, 2).error() ==
          refusal::not_finite);
    CHECK(measure_one_way(std::vector<double>{1, 1, 2, 2}, groups{0, 0, 1, 1}, 2).error() ==
          refusal::no_contrast);
}
