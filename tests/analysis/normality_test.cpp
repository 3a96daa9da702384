#include "analysis/normality.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

TEST_CASE("normality: the statistic is that of another implementation", "[analysis][normality]") {
    // Outside reference, run once: scipy.stats.anderson 1.10.1 gives A^2 without the factor for n.
    const std::vector<double> a{2.39798, -0.16255, 0.54605,  0.68578,  -0.78007, 1.34234,
                                1.53208, -0.86899, -0.50855, -0.58256, -0.54597, 0.08503};
    const std::vector<double> b{1, 2, 3, 5, 8, 13, 21, 34, 55, 89};
    const auto factor = [](double n) { return 1.0 + 0.75 / n + 2.25 / (n * n); };
    CHECK_THAT(measure_normality(a)->statistic, WithinRel(0.4721357254374148 * factor(12), 1e-10));
    CHECK_THAT(measure_normality(b)->statistic, WithinRel(0.8814465460692364 * factor(10), 1e-10));
    CHECK(measure_normality(a)->probability > 0.1);
    CHECK(measure_normality(b)->probability < 0.05);
}

TEST_CASE("normality: a normal sample is called abnormal as often as stated",
          "[analysis][normality]") {
    std::mt19937_64 random{41};
    std::normal_distribution<double> normal{100.0, 3.0};
    for (const std::size_t n : {8U, 20U, 100U}) {
        constexpr int trials = 4000;
        int at_one = 0, at_five = 0, at_ten = 0, at_half = 0;
        for (int t = 0; t < trials; ++t) {
            std::vector<double> x(n);
            for (double& v : x) v = normal(random);
            const double p = measure_normality(x)->probability;
            at_one += p < 0.01 ? 1 : 0;
            at_five += p < 0.05 ? 1 : 0;
            at_ten += p < 0.10 ? 1 : 0;
            at_half += p < 0.50 ? 1 : 0;
        }
        CAPTURE(n);
        // Four standard deviations of a share of 4000, and the stated 5 % of the probability.
        CHECK_THAT(at_one / double{trials}, WithinAbs(0.01, 0.0068));
        CHECK_THAT(at_five / double{trials}, WithinAbs(0.05, 0.0163));
        CHECK_THAT(at_ten / double{trials}, WithinAbs(0.10, 0.024));
        CHECK_THAT(at_half / double{trials}, WithinAbs(0.50, 0.057));
    }
}

TEST_CASE("normality: skewed and two-humped samples are found", "[analysis][normality]") {
    std::mt19937_64 random{42};
    std::exponential_distribution<double> skewed{1.0};
    std::normal_distribution<double> normal;
    int found_skewed = 0, found_humps = 0;
    for (int t = 0; t < 200; ++t) {
        std::vector<double> a(40), b(40);
        for (double& v : a) v = skewed(random);
        for (std::size_t i = 0; i < b.size(); ++i) b[i] = normal(random) + (i % 2 == 0 ? 6.0 : 0.0);
        found_skewed += measure_normality(a)->probability < 0.05 ? 1 : 0;
        found_humps += measure_normality(b)->probability < 0.05 ? 1 : 0;
    }
    // Nearly always: of 200, with room for one in twenty.
    CHECK(found_skewed > 190);
    CHECK(found_humps > 190);
}

TEST_CASE("normality: one wild value is not lost in its own tail", "[analysis][normality]") {
    std::vector<double> x(2000);
    for (std::size_t i = 0; i < x.size(); ++i) x[i] = static_cast<double>(i % 7);
    x[0] = 1e6;
    const auto r = measure_normality(x);
    REQUIRE(r);
    CHECK(std::isfinite(r->statistic));
    CHECK(r->probability < 1e-6);
}

TEST_CASE("normality: what cannot be tested is refused", "[analysis][normality]") {
    CHECK(measure_normality(std::vector<double>(7, 1.0)).error() == refusal::too_short);
    CHECK(measure_normality(std::vector<double>(9, 1.0)).error() == refusal::bad_argument);
    CHECK(measure_normality(std::vector<double>(9, NAN)).error() == refusal::not_finite);
}
