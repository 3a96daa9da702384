#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>

#include "analysis/tolerance.hpp"

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;

namespace {

double below(double z) {
    return 0.5 * std::erfc(-z / std::sqrt(2.0));
}

struct sample {
    double mean, deviation;
};

sample draw(std::mt19937_64& random, unsigned n) {
    std::normal_distribution<double> normal;
    double sum = 0.0, squares = 0.0;
    for (unsigned i = 0; i < n; ++i) {
        const double v = normal(random);
        sum += v;
        squares += v * v;
    }
    const double m = sum / n;
    return {m, std::sqrt((squares - n * m * m) / (n - 1.0))};
}

}  // namespace

TEST_CASE("share within: one limit is the inverse of the one-sided factor",
          "[analysis][tolerance]") {
    for (const unsigned n : {2U, 5U, 20U, 200U})
        for (const double share : {0.5, 0.9, 0.99}) {
            CAPTURE(n, share);
            const double k = one_sided_tolerance_factor(n, share, 0.95).value();
            const auto upper = share_within(10.0, 2.0, n, {{}, 10.0 + 2.0 * k}, 0.95).value();
            const auto lower = share_within(10.0, 2.0, n, {10.0 - 2.0 * k, {}}, 0.95).value();
            CHECK_THAT(upper.at_least, WithinAbs(share, 1e-7));
            CHECK_THAT(lower.at_least, WithinAbs(share, 1e-7));
            CHECK_THAT(upper.estimate, WithinAbs(below(k), 1e-12));
            CHECK(upper.at_most >= upper.estimate);
        }
}

TEST_CASE("share within: two limits take half the doubt each", "[analysis][tolerance]") {
    const auto both = share_within(0.3, 1.0, 12, {-2.0, 2.5}, 0.9).value();
    const auto low = share_within(0.3, 1.0, 12, {-2.0, {}}, 0.95).value();
    const auto high = share_within(0.3, 1.0, 12, {{}, 2.5}, 0.95).value();
    CHECK_THAT(both.at_least, WithinAbs(low.at_least + high.at_least - 1.0, 1e-12));
    CHECK_THAT(both.at_most, WithinAbs(low.at_most + high.at_most - 1.0, 1e-12));
    CHECK_THAT(both.estimate, WithinAbs(below(2.2) - below(-2.3), 1e-12));
}

TEST_CASE("share within: each bound holds as often as it says", "[analysis][tolerance]") {
    struct limits {
        tolerance_interval permitted;
        double share;
        bool exact;
    };
    const auto l =
        GENERATE(limits{{{}, 1.3}, below(1.3), true}, limits{{-1.0, {}}, below(1.0), true},
                 limits{{-1.6, 1.6}, below(1.6) - below(-1.6), false},
                 limits{{-0.3, 0.9}, below(0.9) - below(-0.3), false},
                 limits{{1.0, 4.0}, below(4.0) - below(1.0), false});
    const unsigned n = GENERATE(2U, 6U, 25U);
    CAPTURE(n, l.share);
    std::mt19937_64 random{31};
    constexpr int trials = 300;
    int least = 0, most = 0;
    for (int t = 0; t < trials; ++t) {
        const auto s = draw(random, n);
        const auto r = share_within(s.mean, s.deviation, n, l.permitted, 0.9);
        REQUIRE(r);
        least += r->at_least <= l.share ? 1 : 0;
        most += r->at_most >= l.share ? 1 : 0;
    }
    // Four standard deviations of a share of 300 about 0.9.
    constexpr double chance = 0.07;
    CHECK(least / double{trials} > 0.9 - chance);
    CHECK(most / double{trials} > 0.9 - chance);
    if (!l.exact) return;
    CHECK(least / double{trials} < 0.9 + chance);
    CHECK(most / double{trials} < 0.9 + chance);
}

TEST_CASE("share within: what makes no sense is refused", "[analysis][tolerance]") {
    CHECK(share_within(0, 1, 1, {-1.0, 1.0}, 0.9).error() == refusal::bad_argument);
    CHECK(share_within(0, 0, 5, {-1.0, 1.0}, 0.9).error() == refusal::bad_argument);
    CHECK(share_within(0, 1, 5, {}, 0.9).error() == refusal::bad_argument);
    CHECK(share_within(0, 1, 5, {1.0, -1.0}, 0.9).error() == refusal::bad_argument);
    CHECK(share_within(0, 1, 5, {-1.0, 1.0}, 1.0).error() == refusal::bad_argument);
    CHECK(share_within(NAN, 1, 5, {-1.0, 1.0}, 0.9).error() == refusal::bad_argument);
}
