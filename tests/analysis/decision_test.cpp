#include <rapidcheck/catch.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <numbers>

#include "analysis/uncertainty.hpp"

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;

namespace {

tolerance_interval at_most(double upper) {
    return {std::nullopt, upper};
}
tolerance_interval at_least(double lower) {
    return {lower, std::nullopt};
}

/// Integral by Simpson's rule.
template <class F>
double integral(F f, double from, double to) {
    const int steps = 2000;
    const double h = (to - from) / steps;
    double sum = f(from) + f(to);
    for (int i = 1; i < steps; ++i) sum += (i % 2 ? 4 : 2) * f(from + i * h);
    return sum * h / 3;
}

tolerance_interval any_interval() {
    const double a = *rc::gen::inRange(-1000, 1000) / 8.0;
    const double width = *rc::gen::inRange(0, 400) / 8.0;
    switch (*rc::gen::inRange(0, 3)) {
        case 0:
            return at_least(a);
        case 1:
            return at_most(a);
        default:
            return {a, a + width};
    }
}

double any_value() {
    return *rc::gen::inRange(-1200, 1400) / 8.0;
}
double any_uncertainty() {
    return *rc::gen::inRange(0, 400) / 16.0;
}

tolerance_interval mirrored(const tolerance_interval& t) {
    const auto minus = [](std::optional<double> v) { return v ? std::optional{-*v} : v; };
    return {minus(t.upper), minus(t.lower)};
}

}  // namespace

TEST_CASE("conformance probabilities are those of JCGM 106, clause 7", "[analysis][uncertainty]") {
    // JCGM 106:2012, examples of clause 7 (inputs from memory; printed with two digits).
    // Zener diode, breakdown voltage at most -5.40 V.
    CHECK_THAT(conformance_probability(-5.47, 0.05, at_most(-5.40)).value(), WithinAbs(0.92, 5e-3));
    // Metal container, bursting strength at least 490 kPa.
    CHECK_THAT(conformance_probability(509.7, 8.6, at_least(490)).value(), WithinAbs(0.99, 5e-3));
    // Motor oil, kinematic viscosity 12.5 to 16.3 mm^2/s.
    CHECK_THAT(conformance_probability(13.6, 1.8, {12.5, 16.3}).value(), WithinAbs(0.66, 5e-3));
    // Table 1: z for a one-sided limit, printed to two decimals (slope of Phi there below 0.3).
    const double table[][2] = {
        {0.80, 0.84}, {0.90, 1.28}, {0.95, 1.64}, {0.99, 2.33}, {0.999, 3.09}};
    for (const auto& row : table)
        CHECK_THAT(conformance_probability(-row[1], 1, at_most(0)).value(),
                   WithinAbs(row[0], 1.5e-3));
}

TEST_CASE("global risks of the resistor example of JCGM 106, clause 9.5, come out",
          "[analysis][uncertainty]") {
    // Nominal 1500 ohm within 0.20 ohm, process deviation 0.12 ohm, measuring system 0.04 ohm,
    // guard band 0.02 ohm: printed consumer's risk 1 %, producer's risk 7 %, 90 % conforming
    // (printed values from memory).
    const tolerance_interval tolerance{-0.20, 0.20}, acceptance{-0.18, 0.18};
    const auto density = [](double x) {
        return std::exp(-x * x / (2 * 0.12 * 0.12)) / (0.12 * std::sqrt(2 * std::numbers::pi));
    };
    const auto accepted = [&](double x) {
        return density(x) * conformance_probability(x, 0.04, acceptance).value();
    };
    const auto rejected = [&](double x) { return density(x) - accepted(x); };
    CHECK_THAT(conformance_probability(0, 0.12, tolerance).value(), WithinAbs(0.90, 5e-3));
    CHECK_THAT(2 * integral(accepted, 0.20, 1.0), WithinAbs(0.01, 5e-4));
    CHECK_THAT(integral(rejected, -0.20, 0.20), WithinAbs(0.07, 5e-3));
}

TEST_CASE("the guard band decides as the non-binary rule of ILAC-G8", "[analysis][uncertainty]") {
    // ILAC-G8:09/2019, 4.2: pass up to TL - w, fail above TL + w, both middle results undecided.
    // TL = 10.0, U = 0.4 (k = 2, u = 0.2), w = U; own readings, the rule from the guideline.
    const std::pair<double, decision> rows[] = {
        {9.5, decision::inside},    {9.6, decision::inside},     {9.7, decision::undecided},
        {9.9, decision::undecided}, {10.0, decision::undecided}, {10.2, decision::undecided},
        {10.5, decision::outside}};
    for (const auto& [y, expected] : rows) {
        CAPTURE(y);
        CHECK(decide(y, 0.2, 2, at_most(10.0)).value() == expected);
    }
}

TEST_CASE("an item on the guarded limit conforms with 97.7 per cent", "[analysis][uncertainty]") {
    // ILAC-G8:09/2019, table of guard bands: w = U, specific risk of false accept below 2.5 %;
    // Phi(2) = 0.97725.
    CHECK(decide(9.0, 0.5, 2, at_most(10)).value() == decision::inside);
    CHECK_THAT(conformance_probability(9.0, 0.5, at_most(10)).value(), WithinAbs(0.97725, 5e-6));
    // JCGM 106:2012, clause 8: simple acceptance on the limit itself, 50 %.
    CHECK_THAT(conformance_probability(10, 0.5, at_most(10)).value(), WithinAbs(0.5, 1e-15));
}

TEST_CASE("limits decide on one side, on both and when they leave no room",
          "[analysis][uncertainty]") {
    CHECK(decide(0, 1, 2, {-2, 2}).value() == decision::inside);
    CHECK(decide(0, 1, 2, {-1.9, 5}).value() == decision::undecided);
    CHECK(decide(-7, 1, 2, {-5, 5}).value() == decision::outside);
    CHECK(decide(7, 1, 2, at_least(5)).value() == decision::inside);
    CHECK(decide(3, 1, 2, at_least(5)).value() == decision::outside);
    // An interval narrower than 2 U cannot be met surely.
    CHECK(decide(0, 1, 2, {-1, 1}).value() == decision::undecided);
    CHECK(decide(3, 1, 2, {-1, 1}).value() == decision::outside);
    // One permitted value: only a reading without uncertainty can meet it.
    CHECK(decide(1, 0, 2, {1, 1}).value() == decision::inside);
    CHECK(decide(1, 1e-9, 2, {1, 1}).value() == decision::undecided);
    CHECK(decide(2, 0, 2, {1, 1}).value() == decision::outside);
}

TEST_CASE("a decision without sense is refused", "[analysis][uncertainty]") {
    const double not_a_number = std::numeric_limits<double>::quiet_NaN();
    const double infinite = std::numeric_limits<double>::infinity();
    const auto refused = [](const auto& result) {
        return !result && result.error() == refusal::bad_argument;
    };
    CHECK(refused(decide(not_a_number, 1, 2, at_most(1))));
    CHECK(refused(decide(1, not_a_number, 2, at_most(1))));
    CHECK(refused(decide(1, -1, 2, at_most(1))));
    CHECK(refused(decide(1, 1, -2, at_most(1))));
    CHECK(refused(decide(1, 1, 2, {})));
    CHECK(refused(decide(1, 1, 2, {2, 1})));
    CHECK(refused(decide(1, 1, 2, at_least(not_a_number))));
    CHECK(refused(decide(1, 1, 2, at_most(infinite))));
    CHECK(refused(conformance_probability(1, -1, at_most(1))));
    CHECK(refused(conformance_probability(infinite, 1, at_most(1))));
    CHECK(refused(conformance_probability(1, 1, {2, 1})));
}

TEST_CASE("decisions obey the laws of a guard band", "[analysis][uncertainty][property]") {
    rc::prop("more uncertainty can only turn a decision into undecided", [] {
        const auto permitted = any_interval();
        const double value = any_value(), u = any_uncertainty(), more = u + any_uncertainty();
        const auto sure = decide(value, u, 2, permitted).value();
        const auto less_sure = decide(value, more, 2, permitted).value();
        RC_ASSERT(less_sure == sure || less_sure == decision::undecided);
    });
    rc::prop("the mirror image is decided alike", [] {
        const auto permitted = any_interval();
        const double value = any_value(), u = any_uncertainty();
        RC_ASSERT(decide(value, u, 2, permitted).value() ==
                  decide(-value, u, 2, mirrored(permitted)).value());
    });
    rc::prop("inside conforms and outside fails with at least 95.4 per cent", [] {
        const auto permitted = any_interval();
        const double value = any_value(), u = any_uncertainty();
        const double conforms = conformance_probability(value, u, permitted).value();
        const auto verdict = decide(value, u, 2, permitted).value();
        // Phi(2) at one limit; two limits at 2 U apart lose both tails: 2 Phi(2) - 1 = 0.9545.
        if (verdict == decision::inside) RC_ASSERT(conforms >= 0.9544);
        if (verdict == decision::outside) RC_ASSERT(conforms <= 0.0228);
    });
    rc::prop("a value inside is never decided outside, nor the reverse", [] {
        const auto permitted = any_interval();
        const double value = any_value(), u = any_uncertainty();
        const bool within = (!permitted.lower || value >= *permitted.lower) &&
                            (!permitted.upper || value <= *permitted.upper);
        const auto verdict = decide(value, u, 2, permitted).value();
        RC_ASSERT(verdict != (within ? decision::outside : decision::inside));
    });
}
