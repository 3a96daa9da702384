#include "analysis/uncertainty.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <numbers>

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
const double not_a_number = std::numeric_limits<double>::quiet_NaN();

// JCGM 100:2008 (GUM), Table H.2: V / V, I / mA, phi / rad, observed together five times.
const std::vector<double> gum_h2{5.007,  19.663, 1.0456, 4.994,  19.639, 1.0438, 5.005, 19.640,
                                 1.0468, 4.990,  19.685, 1.0428, 4.999,  19.678, 1.0433};

double correlation(const std::vector<double>& v, std::size_t a, std::size_t b) {
    return v[a * 3 + b] / std::sqrt(v[a * 3 + a] * v[b * 3 + b]);
}

}  // namespace

TEST_CASE("contributions combine in quadrature and the largest is named",
          "[analysis][uncertainty]") {
    // JCGM 100:2008, H.1.4 (end gauge): 25, 9.7, 2.9 and 16.6 nm give u_c = 32 nm (from memory).
    const auto budget =
        combine(
            {{"standard", 25}, {"repeatability", 9.7}, {"comparator", 2.9}, {"expansion", 16.6}})
            .value();
    CHECK_THAT(budget.standard_uncertainty, WithinAbs(32, 0.5));
    REQUIRE(budget.largest() != nullptr);
    CHECK(budget.largest()->name == "standard");
    CHECK(combine({}).value().largest() == nullptr);
    CHECK(combine({{"wrong", -1}}).error() == refusal::bad_argument);
    CHECK(combine({{"wrong", not_a_number}}).error() == refusal::bad_argument);
}

TEST_CASE("correlated observations give the resistance, reactance and impedance of GUM H.2",
          "[analysis][uncertainty]") {
    const auto v = covariance_of_means(gum_h2, 3).value();
    // Table H.2: standard deviations of the means and correlation coefficients.
    CHECK_THAT(std::sqrt(v[0]), WithinAbs(0.0032, 5e-5));
    CHECK_THAT(std::sqrt(v[4]), WithinAbs(0.0095, 5e-5));
    CHECK_THAT(std::sqrt(v[8]), WithinAbs(0.00075, 5e-6));
    CHECK_THAT(correlation(v, 0, 1), WithinAbs(-0.36, 5e-3));
    CHECK_THAT(correlation(v, 0, 2), WithinAbs(0.86, 5e-3));
    CHECK_THAT(correlation(v, 1, 2), WithinAbs(-0.65, 5e-3));

    const double volt = 4.999, milliamp = 19.661, phi = 1.04446;  // means of Table H.2
    const double z = volt / (milliamp * 1e-3), r = z * std::cos(phi), x = z * std::sin(phi);
    const std::vector<double> sensitivities{r / volt, -r / milliamp, -x,  // R = V/I cos phi
                                            x / volt, -x / milliamp, r,   // X = V/I sin phi
                                            z / volt, -z / milliamp, 0};  // Z = V/I
    const auto result = propagate(v, sensitivities).value();
    // Table H.3; u(X) is printed 0.295 while the same data give 0.2956, hence 0.001 there.
    CHECK_THAT(std::sqrt(result[0]), WithinAbs(0.071, 5e-4));
    CHECK_THAT(std::sqrt(result[4]), WithinAbs(0.295, 1e-3));
    CHECK_THAT(std::sqrt(result[8]), WithinAbs(0.236, 5e-4));
    CHECK_THAT(correlation(result, 0, 1), WithinAbs(-0.588, 5e-4));
    CHECK_THAT(correlation(result, 0, 2), WithinAbs(-0.485, 5e-4));
    CHECK_THAT(correlation(result, 1, 2), WithinAbs(0.993, 6e-4));
}

TEST_CASE("covariances of the wrong shape are refused", "[analysis][uncertainty]") {
    const std::vector<double> three{1, 2, 3};
    CHECK(covariance_of_means(three, 2).error() == refusal::bad_argument);
    CHECK(covariance_of_means(three, 0).error() == refusal::bad_argument);
    CHECK(covariance_of_means(three, 3).error() == refusal::too_short);
    CHECK(covariance_of_means(std::vector<double>{1, not_a_number}, 1).error() ==
          refusal::not_finite);
    CHECK(propagate(three, three).error() == refusal::bad_argument);
    CHECK(propagate(std::vector<double>{1, 0, 0, 1}, three).error() == refusal::bad_argument);
    CHECK(propagate(std::vector<double>{not_a_number}, three).error() == refusal::not_finite);
}

TEST_CASE("coverage factors are those of GUM Table G.2", "[analysis][uncertainty]") {
    struct row {
        double nu, p6827, p90, p95, p9545, p99, p9973;
    };
    // JCGM 100:2008, Table G.2 (from memory, recomputed). The columns 68.27, 95.45 and 99.73 %
    // stand for exactly one, two and three standard deviations of the normal distribution.
    const row rows[] = {{1, 1.84, 6.31, 12.71, 13.97, 63.66, 235.80},
                        {2, 1.32, 2.92, 4.30, 4.53, 9.92, 19.21},
                        {3, 1.20, 2.35, 3.18, 3.31, 5.84, 9.22},
                        {5, 1.11, 2.02, 2.57, 2.65, 4.03, 5.51},
                        {10, 1.05, 1.81, 2.23, 2.28, 3.17, 3.96},
                        {16, 1.03, 1.75, 2.12, 2.17, 2.92, 3.54},
                        {20, 1.03, 1.72, 2.09, 2.13, 2.85, 3.42},
                        {30, 1.02, 1.70, 2.04, 2.09, 2.75, 3.27},
                        {50, 1.01, 1.68, 2.01, 2.05, 2.68, 3.16},
                        {100, 1.005, 1.660, 1.984, 2.025, 2.626, 3.077},
                        {infinite, 1.000, 1.645, 1.960, 2.000, 2.576, 3.000}};
    const auto within = [](double k) { return std::erf(k / std::numbers::sqrt2); };
    for (const auto& r : rows) {
        CAPTURE(r.nu);
        const double half_digit = r.nu >= 100 ? 5.1e-4 : 5.1e-3;
        CHECK_THAT(coverage_factor(within(1), r.nu).value(), WithinAbs(r.p6827, half_digit));
        CHECK_THAT(coverage_factor(0.90, r.nu).value(), WithinAbs(r.p90, half_digit));
        CHECK_THAT(coverage_factor(0.95, r.nu).value(), WithinAbs(r.p95, half_digit));
        CHECK_THAT(coverage_factor(within(2), r.nu).value(), WithinAbs(r.p9545, half_digit));
        CHECK_THAT(coverage_factor(0.99, r.nu).value(), WithinAbs(r.p99, half_digit));
        CHECK_THAT(coverage_factor(within(3), r.nu).value(), WithinAbs(r.p9973, half_digit));
    }
    CHECK(coverage_factor(1.0, 5).error() == refusal::bad_argument);
    CHECK(coverage_factor(0.95, 0).error() == refusal::bad_argument);
    CHECK(coverage_factor(not_a_number, 5).error() == refusal::bad_argument);
}

TEST_CASE("the end gauge of GUM H.1 has 16 effective degrees of freedom",
          "[analysis][uncertainty]") {
    // JCGM 100:2008, H.1.6 (from memory): nu_eff = 16.7 taken as 16, k = t99(16) = 2.92, U = 93 nm.
    const std::vector<estimated_part> parts{{25, 18}, {9.7, 25.6}, {2.9, 50}, {16.6, 2}};
    const double nu = effective_degrees_of_freedom(parts).value();
    CHECK_THAT(nu, WithinAbs(16.7, 0.1));  // the GUM carries u_c with fewer digits
    CHECK(std::floor(nu) == 16.0);
    const auto budget = combine({{"", 25}, {"", 9.7}, {"", 2.9}, {"", 16.6}}).value();
    const double k = coverage_factor(0.99, std::floor(nu)).value();
    CHECK_THAT(budget.expanded(k), WithinAbs(93, 0.7));
}

TEST_CASE("degrees of freedom behave at their ends", "[analysis][uncertainty]") {
    const auto nu = [](std::vector<estimated_part> p) { return effective_degrees_of_freedom(p); };
    CHECK_THAT(nu({{2.0, 7}}).value(), WithinRel(7.0, 1e-14));
    CHECK_THAT(nu({{1.0, 7}, {1.0, 7}}).value(), WithinRel(14.0, 1e-14));
    CHECK(std::isinf(nu({{1.0, infinite}}).value()));
    CHECK(nu({}).error() == refusal::bad_argument);
    CHECK(nu({{0.0, 5}}).error() == refusal::bad_argument);
    CHECK(nu({{1.0, 0}}).error() == refusal::bad_argument);
    CHECK(nu({{-1.0, 3}}).error() == refusal::bad_argument);
}
