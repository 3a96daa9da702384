#include "analysis/proportion.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;

TEST_CASE("share: one-sided limits are those of the binomial tails", "[analysis][proportion]") {
    // By algebra: none of n is below 1 - (1 - confidence)^(1/n), all of n above (1 - confidence)
    // ^(1/n). 0 of 59 failing shows 95 % (the 59 below); 29 of 29 shows 90 %: 0.05^(1/29) = 0.9019.
    CHECK_THAT(share_at_least(29, 29, 0.95).value(), WithinAbs(std::pow(0.05, 1.0 / 29), 1e-9));
    CHECK_THAT(share_at_most(0, 59, 0.95).value(), WithinAbs(1 - std::pow(0.05, 1.0 / 59), 1e-9));
    CHECK_THAT(share_at_least(0, 10, 0.95).value(), WithinAbs(0.0, 1e-300));
    CHECK_THAT(share_at_most(10, 10, 0.95).value(), WithinAbs(1.0, 1e-15));
    // NIST/SEMATECH e-Handbook, 7.2.4.1: 4 defective of 20, two-sided 90 %, so 95 % each side:
    // 0.071354 and 0.401029 (quoted from memory; its last digit is good to one).
    CHECK_THAT(share_at_least(4, 20, 0.95).value(), WithinAbs(0.071354, 1.5e-6));
    CHECK_THAT(share_at_most(4, 20, 0.95).value(), WithinAbs(0.401029, 1.5e-6));
    const auto both = clopper_pearson(4, 20, 0.90).value();
    CHECK_THAT(both.lower, WithinAbs(0.071354, 1.5e-6));
    CHECK_THAT(both.upper, WithinAbs(0.401029, 1.5e-6));
}

TEST_CASE("share: a one-sided limit holds at least as often as it says", "[analysis][proportion]") {
    // Every possible count weighed by its probability, so nothing here is left to chance.
    for (const unsigned n : {3U, 12U, 40U})
        for (const double p : {0.02, 0.3, 0.5, 0.9, 0.99}) {
            double below = 0.0, above = 0.0;
            for (unsigned k = 0; k <= n; ++k) {
                const double weight =
                    std::exp(std::lgamma(n + 1.0) - std::lgamma(k + 1.0) -
                             std::lgamma(n - k + 1.0) + k * std::log(p) + (n - k) * std::log1p(-p));
                if (share_at_least(k, n, 0.9).value() <= p) below += weight;
                if (share_at_most(k, n, 0.9).value() >= p) above += weight;
            }
            CAPTURE(n, p);
            CHECK(below >= 0.9 - 1e-9);
            CHECK(above >= 0.9 - 1e-9);
        }
}

TEST_CASE("extremes: sample sizes are those of the published tables", "[analysis][proportion]") {
    // ISO 16269-6, tables of sample sizes for distribution-free intervals, and Wilks 1941 (quoted
    // from memory): share, confidence, one end, both ends.
    struct row {
        double share, confidence;
        unsigned one, both;
    };
    const auto r =
        GENERATE(row{0.95, 0.95, 59, 93}, row{0.90, 0.95, 29, 46}, row{0.99, 0.95, 299, 473},
                 row{0.99, 0.99, 459, 662}, row{0.95, 0.99, 90, 130}, row{0.90, 0.90, 22, 38});
    CAPTURE(r.share, r.confidence);
    CHECK(units_for_extremes(r.share, r.confidence, sample_ends::one).value() == r.one);
    CHECK(units_for_extremes(r.share, r.confidence, sample_ends::both).value() == r.both);
    for (const auto ends : {sample_ends::one, sample_ends::both}) {
        const unsigned n = ends == sample_ends::one ? r.one : r.both;
        CHECK(confidence_within_extremes(n, r.share, ends).value() >= r.confidence);
        CHECK(confidence_within_extremes(n - 1, r.share, ends).value() < r.confidence);
        const double share = share_within_extremes(n, r.confidence, ends).value();
        CHECK(share >= r.share);
        CHECK_THAT(confidence_within_extremes(n, share, ends).value(),
                   WithinAbs(r.confidence, 1e-9));
    }
}

TEST_CASE("extremes: the confidence is how often the share is held", "[analysis][proportion]") {
    std::mt19937_64 random{5};
    std::exponential_distribution<double> lifetime{1.0};
    constexpr unsigned n = 12;
    constexpr int trials = 4000;
    int one = 0, both = 0;
    for (int t = 0; t < trials; ++t) {
        double least = 1e300, most = 0.0;
        for (unsigned i = 0; i < n; ++i) {
            const double v = lifetime(random);
            least = std::min(least, v);
            most = std::max(most, v);
        }
        one += 1.0 - std::exp(-most) >= 0.8 ? 1 : 0;
        both += std::exp(-least) - std::exp(-most) >= 0.8 ? 1 : 0;
    }
    // Four standard deviations of a share of 4000.
    CHECK_THAT(one / double{trials},
               WithinAbs(confidence_within_extremes(n, 0.8, sample_ends::one).value(), 0.032));
    CHECK_THAT(both / double{trials},
               WithinAbs(confidence_within_extremes(n, 0.8, sample_ends::both).value(), 0.032));
}

TEST_CASE("share: what makes no sense is refused", "[analysis][proportion]") {
    CHECK(share_at_least(3, 2, 0.95).error() == refusal::bad_argument);
    CHECK(share_at_least(0, 0, 0.95).error() == refusal::bad_argument);
    CHECK(share_at_most(1, 2, 1.0).error() == refusal::bad_argument);
    CHECK(share_at_most(1, 2, NAN).error() == refusal::bad_argument);
    CHECK(confidence_within_extremes(0, 0.9, sample_ends::one).error() == refusal::bad_argument);
    CHECK(confidence_within_extremes(5, 1.0, sample_ends::one).error() == refusal::bad_argument);
    CHECK_THAT(confidence_within_extremes(1, 0.9, sample_ends::both).value(), WithinAbs(0, 1e-15));
    CHECK(share_within_extremes(1, 0.9, sample_ends::both).error() == refusal::bad_argument);
    CHECK(units_for_extremes(0.9, 1.0, sample_ends::both).error() == refusal::bad_argument);
    CHECK(units_for_extremes(1.0 - 1e-12, 0.99, sample_ends::both).error() ==
          refusal::bad_argument);
}
