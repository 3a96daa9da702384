#include "analysis/spread.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <random>
#include <vector>

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;

TEST_CASE("spread: an even comb has the deviation of a uniform distribution",
          "[analysis][spread]") {
    // Width over the square root of 12: JCGM 100:2008, 4.3.7.
    std::vector<double> comb;
    for (int i = 0; i < 2001; ++i) comb.push_back(3.0 + 0.5 * i / 2000.0);
    const auto s = measure_spread(comb, 0.0);
    REQUIRE(s);
    CHECK_THAT(s->mean, WithinAbs(3.25, 1e-12));
    CHECK_THAT(s->deviation, WithinAbs(0.5 / std::sqrt(12.0), 2e-4));
    CHECK_THAT(s->width, WithinAbs(0.5, 1e-3));
    CHECK(s->uniform_probability > 0.99);
}

TEST_CASE("spread: what is stated holds the truth in about 95 of 100 cases", "[analysis][spread]") {
    std::mt19937_64 random{7};
    std::uniform_real_distribution<double> one{2.0, 2.6};
    int width = 0;
    int mean = 0;
    int deviation = 0;
    int called_uniform = 0;
    for (int trial = 0; trial < 1000; ++trial) {
        std::vector<double> x(48);
        for (double& v : x) v = one(random);
        const auto s = measure_spread(x, 0.0);
        REQUIRE(s);
        width += std::abs(s->width - 0.6) <= 1.96 * s->u_width ? 1 : 0;
        mean += std::abs(s->mean - 2.3) <= 1.96 * s->u_mean ? 1 : 0;
        deviation +=
            std::abs(s->deviation - 0.6 / std::sqrt(12.0)) <= 1.96 * s->u_deviation ? 1 : 0;
        called_uniform += s->uniform_probability > 0.01 ? 1 : 0;
    }
    for (const int held : {width, mean, deviation}) {
        CHECK(held >= 930);
        CHECK(held <= 970);
    }
    CHECK(called_uniform >= 975);  // 99 % with three standard deviations of a thousand trials
}

TEST_CASE("spread: two clusters are not uniform, and nothing scatters beyond its observer",
          "[analysis][spread]") {
    std::vector<double> two;
    for (int i = 0; i < 24; ++i) {
        two.push_back(1.0 + 0.001 * i);
        two.push_back(2.0 + 0.001 * i);
    }
    CHECK(measure_spread(two, 0.0)->uniform_probability < 0.01);
    std::mt19937_64 random{9};
    std::normal_distribution<double> noise{0.0, 0.01};
    std::vector<double> steady(48);
    for (double& v : steady) v = 5.0 + noise(random);
    const auto s = measure_spread(steady, 0.01);
    REQUIRE(s);
    CHECK(s->deviation < 3.0 * s->u_deviation);
    CHECK_FALSE(measure_spread(std::vector<double>(7, 1.0), 0.0));
    CHECK(measure_spread(std::vector<double>(8, 1.0), 0.0)->deviation == 0.0);
    CHECK_FALSE(measure_spread(std::vector<double>(8, NAN), 0.0));
}

TEST_CASE("spread: Clopper-Pearson intervals are those of R's binom.test", "[analysis][spread]") {
    // Worked example of R's own documentation of binom.test (Conover 1971, p. 97f): 682 of 925,
    // 95 % interval 0.7076683 to 0.7654066. Zero of n: 1 - 0.025^(1/n), by algebra.
    const auto mendel = clopper_pearson(682, 925, 0.95);
    REQUIRE(mendel);
    CHECK_THAT(mendel->lower, WithinAbs(0.7076683, 5e-8));
    CHECK_THAT(mendel->upper, WithinAbs(0.7654066, 5e-8));
    for (const unsigned n : {1U, 10U, 36U, 100U}) {
        CAPTURE(n);
        const double edge = std::pow(0.025, 1.0 / n);
        CHECK_THAT(clopper_pearson(0, n, 0.95)->upper, WithinAbs(1.0 - edge, 1e-9));
        CHECK_THAT(clopper_pearson(n, n, 0.95)->lower, WithinAbs(edge, 1e-9));
        CHECK(clopper_pearson(0, n, 0.95)->lower == 0.0);
        CHECK(clopper_pearson(n, n, 0.95)->upper == 1.0);
    }
    CHECK_FALSE(clopper_pearson(3, 2, 0.95));
    CHECK_FALSE(clopper_pearson(0, 0, 0.95));
}

TEST_CASE("spread: a Clopper-Pearson interval holds the truth at least as often as it says",
          "[analysis][spread]") {
    const double truth = GENERATE(0.5, 0.9, 0.97);
    std::mt19937_64 random{3};
    std::binomial_distribution<unsigned> hits{36, truth};
    int held = 0;
    for (int i = 0; i < 2000; ++i) {
        const auto p = clopper_pearson(hits(random), 36, 0.95);
        held += p->lower <= truth && truth <= p->upper ? 1 : 0;
    }
    CAPTURE(truth);
    CHECK(held >= 1870);  // 95 % less three standard deviations of 2000 trials
}

TEST_CASE("largest: of equal numbers it is what tables of normal order statistics say",
          "[analysis][spread][outside]") {
    // Mean and standard deviation of the largest of n standard normal numbers: D. Teichroew 1956,
    // "Tables of expected values of order statistics ...", Annals of Mathematical Statistics 27; for
    // n = 2 they are 1 / sqrt(pi) and sqrt(1 - 1 / pi). Values from memory.
    struct row {
        std::size_t n;
        double mean, deviation;
    };
    const auto r = GENERATE(row{1, 0.0, 1.0}, row{2, 0.56419, 0.82565}, row{5, 1.16296, 0.66898},
                            row{10, 1.53875, 0.58681});
    CAPTURE(r.n);
    const auto found = measure_largest(std::vector<double>(r.n, 7.0), 0.5);
    REQUIRE(found);
    // Stated in the header.
    CHECK_THAT(found->value, WithinAbs(7.0 - 0.5 * r.mean, 0.5e-3));
    CHECK_THAT(found->u, WithinAbs(0.5 * r.deviation, 0.5e-3));
}

TEST_CASE("largest: one that stands alone is one observation", "[analysis][spread]") {
    const auto found = measure_largest(std::vector<double>{1.0, 9.0, 3.0}, 0.1);
    REQUIRE(found);
    CHECK_THAT(found->value, WithinAbs(9.0, 1e-4));
    CHECK_THAT(found->u, WithinAbs(0.1, 1e-4));
    CHECK(measure_largest({}, 0.1).error() == refusal::too_short);
    CHECK(measure_largest(std::vector<double>{1.0}, -0.1).error() == refusal::bad_argument);
}
