#include <rapidcheck/catch.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <vector>

#include "analysis/fit.hpp"
#include "nist_strd.hpp"

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

// JCGM 100:2008 (GUM), H.3, Table H.6: thermometer readings and observed corrections, degC.
const std::vector<double> gum_t{21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                                24.513, 25.002, 25.503, 26.010, 26.511};
const std::vector<double> gum_b{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                                -0.156, -0.157, -0.159, -0.161, -0.160};

line_fit gum_line(double reference_temperature) {
    auto theta = gum_t;
    for (double& t : theta) t -= reference_temperature;
    return fit_line(theta, gum_b).value();
}

}  // namespace

TEST_CASE("a straight line gives the certified values of NIST StRD Norris", "[analysis][fit]") {
    std::vector<double> x, y;
    for (const auto& p : nist::norris_points) {
        x.push_back(p.x);
        y.push_back(p.y);
    }
    const auto line = fit_line(x, y).value();
    // 15 certified digits; the sums lose about three of the 16 that a double holds.
    CHECK_THAT(line.slope, WithinRel(1.00211681802045, 1e-12));
    CHECK_THAT(line.intercept, WithinRel(-0.262323073774029, 1e-11));
    CHECK_THAT(line.u_intercept, WithinRel(0.232818234301152, 1e-11));
    CHECK_THAT(line.u_slope, WithinRel(0.429796848199937e-03, 1e-11));
    CHECK_THAT(line.residual_sd, WithinRel(0.884796396144373, 1e-11));
    CHECK(line.degrees_of_freedom == 34);
    double rss = 0;
    for (const double d : departures(line, x, y)) rss += d * d;
    CHECK_THAT(rss, WithinRel(26.6173985294224, 1e-11));
}

TEST_CASE("a straight line gives the thermometer calibration of GUM H.3", "[analysis][fit]") {
    // Printed results of JCGM 100:2008, H.3.3 and H.3.4; tolerance half the last printed digit.
    const auto line = gum_line(20.0);
    CHECK_THAT(line.intercept, WithinAbs(-0.1712, 5e-5));
    CHECK_THAT(line.u_intercept, WithinAbs(0.0029, 5e-5));
    CHECK_THAT(line.slope, WithinAbs(0.00218, 5e-6));
    CHECK_THAT(line.u_slope, WithinAbs(0.00067, 5e-6));
    CHECK_THAT(line.correlation(), WithinAbs(-0.930, 5e-4));
    CHECK_THAT(line.residual_sd, WithinAbs(0.0035, 5e-5));
    CHECK(line.degrees_of_freedom == 9);
    const auto at_30 = line.predict(30.0 - 20.0);
    CHECK_THAT(at_30.value, WithinAbs(-0.1494, 5e-5));
    CHECK_THAT(at_30.standard_uncertainty, WithinAbs(0.0041, 5e-5));
}

TEST_CASE("the covariance counts: without it GUM H.3 would say 0.0073 instead of 0.0041",
          "[analysis][fit]") {
    const auto line = gum_line(20.0);
    const double without = std::hypot(line.u_intercept, 10.0 * line.u_slope);
    CHECK_THAT(without, WithinAbs(0.00727, 5e-6));
    const double with = std::sqrt(without * without + 2 * 10.0 * line.covariance);
    CHECK_THAT(line.predict(10.0).standard_uncertainty, WithinRel(with, 1e-9));
}

TEST_CASE("about the mean reading, intercept and slope of GUM H.3 are uncorrelated",
          "[analysis][fit]") {
    // JCGM 100:2008, H.3.5: t0 = 24.0085 degC, y1' = -0.1625, s(y1') = 0.0011.
    const auto line = gum_line(24.0085);
    CHECK_THAT(line.intercept, WithinAbs(-0.1625, 5e-5));
    CHECK_THAT(line.u_intercept, WithinAbs(0.0011, 5e-5));
    CHECK_THAT(line.correlation(), WithinAbs(0.0, 1e-4));  // t0 itself is printed to 4 decimals
    CHECK_THAT(line.centre_x, WithinAbs(0.0, 5e-5));
}

TEST_CASE("a weight of two counts like the same point given twice", "[analysis][fit]") {
    const std::vector<double> x{0, 1, 2, 4};
    const std::vector<double> y{0.1, 0.9, 2.3, 3.8};
    const auto weighted = fit_line(x, y, std::vector<double>{1, 2, 1, 1}).value();
    const auto doubled =
        fit_line(std::vector<double>{0, 1, 1, 2, 4}, std::vector<double>{0.1, 0.9, 0.9, 2.3, 3.8})
            .value();
    CHECK_THAT(weighted.slope, WithinRel(doubled.slope, 1e-14));
    CHECK_THAT(weighted.intercept, WithinRel(doubled.intercept, 1e-13));
    // Same sum of squares, but the doubled set claims one more degree of freedom (3 against 2).
    CHECK_THAT(weighted.residual_sd, WithinRel(doubled.residual_sd * std::sqrt(1.5), 1e-13));
}

TEST_CASE("a line far from the origin keeps its digits", "[analysis][fit]") {
    rc::prop("moving x moves the intercept only", [] {
        const double shift = *rc::gen::inRange(-1'000'000, 1'000'000);
        const auto moved_by = static_cast<double>(shift);
        std::vector<double> x{0, 1, 2, 3, 5};
        const std::vector<double> y{1.0, 1.5, 1.75, 2.75, 3.5};
        const auto here = fit_line(x, y).value();
        for (double& v : x) v += moved_by;
        const auto there = fit_line(x, y).value();
        RC_ASSERT(std::abs(there.slope - here.slope) < 1e-9);
        RC_ASSERT(std::abs(there.predict(moved_by + 4).value - here.predict(4).value) < 1e-8);
        RC_ASSERT(std::abs(there.predict(moved_by + 4).standard_uncertainty -
                           here.predict(4).standard_uncertainty) < 1e-9);
    });
}

TEST_CASE("a line that cannot be fitted is refused by reason", "[analysis][fit]") {
    const std::vector<double> x{1, 2, 3};
    const std::vector<double> same{2, 2, 2};
    const std::vector<double> bad{1, std::numeric_limits<double>::quiet_NaN(), 3};
    CHECK(fit_line(x, std::vector<double>{1, 2}).error() == refusal::bad_argument);
    CHECK(fit_line(std::vector<double>{1, 2}, std::vector<double>{1, 2}).error() ==
          refusal::too_short);
    CHECK(fit_line(same, x).error() == refusal::bad_argument);
    CHECK(fit_line(x, bad).error() == refusal::not_finite);
    CHECK(fit_line(x, x, std::vector<double>{1, 0, 1}).error() == refusal::bad_argument);
}
