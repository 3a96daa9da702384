#include "analysis/tolerance.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

struct factors {
    unsigned units;
    double share, confidence, one, both;
};

}  // namespace

TEST_CASE("tolerance: factors are those of the published tables", "[analysis][tolerance]") {
    // G. J. Hahn and W. Q. Meeker, "Statistical Intervals", 1991, and ISO 16269-6:2014, tables of
    // the exact factors for 95 % / 95 %, three decimals (quoted from memory).
    const auto f =
        GENERATE(factors{5, 0.95, 0.95, 4.203, 5.077}, factors{10, 0.95, 0.95, 2.911, 3.393},
                 factors{20, 0.95, 0.95, 2.396, 2.760});
    CAPTURE(f.units);
    CHECK_THAT(one_sided_tolerance_factor(f.units, f.share, f.confidence).value(),
               WithinAbs(f.one, 5.1e-4));
    CHECK_THAT(two_sided_tolerance_factor(f.units, f.share, f.confidence).value(),
               WithinAbs(f.both, 5.1e-4));
}

TEST_CASE("tolerance: factors are those of adaptive quadrature", "[analysis][tolerance]") {
    // Outside reference, run once: scipy 1.10.1, quad over the sample mean and brentq for k (two-
    // sided), nct.ppf (one-sided); quad was asked for 1e-11, brentq for 1e-9.
    const auto f = GENERATE(factors{2, 0.95, 0.95, 26.25967398303447, 36.519214612060956},
                            factors{3, 0.90, 0.90, 4.258164936706422, 5.7880735527220475},
                            factors{5, 0.95, 0.95, 4.202680741256176, 5.0768745320589845},
                            factors{10, 0.99, 0.99, 5.073725348045277, 5.610168286814585},
                            factors{43, 0.90, 0.99, 1.8739536058511987, 2.2228251737912914},
                            factors{100, 0.99, 0.95, 2.6839578556912778, 2.9355492413205657});
    CAPTURE(f.units);
    CHECK_THAT(one_sided_tolerance_factor(f.units, f.share, f.confidence).value(),
               WithinRel(f.one, 1e-8));
    CHECK_THAT(two_sided_tolerance_factor(f.units, f.share, f.confidence).value(),
               WithinRel(f.both, 1e-8));
}

TEST_CASE("tolerance: the handbook's approximations are near the exact factors",
          "[analysis][tolerance]") {
    // NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3: 43 wafers, 90 % with confidence
    // 99 %: k2 = 2.2173 by Howe's and k1 = 1.8752 by Natrella's approximation.
    CHECK_THAT(two_sided_tolerance_factor(43, 0.90, 0.99).value(), WithinRel(2.2173, 3e-3));
    CHECK_THAT(one_sided_tolerance_factor(43, 0.90, 0.99).value(), WithinRel(1.8752, 1e-3));
}

TEST_CASE("tolerance: with very many units only the normal quantile is left",
          "[analysis][tolerance]") {
    // z_0.975 = 1.959964: standard normal table. Left over: z_0.95 / sqrt(2 n) of k.
    CHECK_THAT(two_sided_tolerance_factor(100'000, 0.95, 0.95).value(),
               WithinRel(1.959964 * (1.0 + 1.645 / std::sqrt(2e5)), 1e-4));
    CHECK_THAT(two_sided_tolerance_factor(100'000, 0.95, 0.5).value(), WithinRel(1.959964, 1e-4));
}

TEST_CASE("tolerance: the interval holds the share as often as it says", "[analysis][tolerance]") {
    std::mt19937_64 random{21};
    std::normal_distribution<double> normal;
    for (const unsigned n : {2U, 4U, 15U}) {
        const double one = one_sided_tolerance_factor(n, 0.9, 0.8).value();
        const double both = two_sided_tolerance_factor(n, 0.9, 0.8).value();
        constexpr int trials = 4000;
        int held_one = 0, held_both = 0;
        for (int t = 0; t < trials; ++t) {
            double sum = 0.0, squares = 0.0;
            for (unsigned i = 0; i < n; ++i) {
                const double v = normal(random);
                sum += v;
                squares += v * v;
            }
            const double m = sum / n;
            const double s = std::sqrt((squares - n * m * m) / (n - 1.0));
            const auto below = [](double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); };
            held_one += below(m + one * s) >= 0.9 ? 1 : 0;
            held_both += below(m + both * s) - below(m - both * s) >= 0.9 ? 1 : 0;
        }
        CAPTURE(n);
        // Four standard deviations of a share of 4000.
        CHECK_THAT(held_one / double{trials}, WithinAbs(0.8, 0.026));
        CHECK_THAT(held_both / double{trials}, WithinAbs(0.8, 0.026));
    }
}

TEST_CASE("tolerance: what makes no sense is refused", "[analysis][tolerance]") {
    CHECK(one_sided_tolerance_factor(1, 0.9, 0.9).error() == refusal::bad_argument);
    CHECK(one_sided_tolerance_factor(5, 1.0, 0.9).error() == refusal::bad_argument);
    CHECK(two_sided_tolerance_factor(1, 0.9, 0.9).error() == refusal::bad_argument);
    CHECK(two_sided_tolerance_factor(5, 0.9, 1.0).error() == refusal::bad_argument);
    CHECK(two_sided_tolerance_factor(5, NAN, 0.9).error() == refusal::bad_argument);
}
