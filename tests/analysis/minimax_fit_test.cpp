#include "analysis/minimax_fit.hpp"

#include <rapidcheck/catch.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include "analysis/hat_basis.hpp"

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

std::vector<double> even(double from, double to, int points) {
    std::vector<double> out;
    for (int i = 0; i < points; ++i) out.push_back(from + (to - from) * i / (points - 1));
    return out;
}

template <class F>
std::vector<double> map(const std::vector<double>& x, F f) {
    std::vector<double> y;
    for (const double v : x) y.push_back(f(v));
    return y;
}

double worst_of(const std::vector<double>& x, const std::vector<double>& y, double intercept,
                double slope) {
    double worst = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i)
        worst = std::max(worst, std::abs(y[i] - intercept - slope * x[i]));
    return worst;
}

/// Every line of least worst departure is parallel to a chord of the points and lies midway: all
/// chords tried one after the other. Slow, and independent of the code under test.
double least_by_all_chords(const std::vector<double>& x, const std::vector<double>& y) {
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t a = 0; a < x.size(); ++a)
        for (std::size_t b = 0; b < a; ++b) {
            if (x[a] == x[b]) continue;
            const double slope = (y[a] - y[b]) / (x[a] - x[b]);
            double low = std::numeric_limits<double>::infinity(), high = -low;
            for (std::size_t i = 0; i < x.size(); ++i) {
                low = std::min(low, y[i] - slope * x[i]);
                high = std::max(high, y[i] - slope * x[i]);
            }
            least = std::min(least, (high - low) / 2.0);
        }
    return least;
}

/// How what many noisy fits give lies about its mean.
struct scatter {
    double sum{0.0}, square{0.0}, n{0.0};
    void add(double v) {
        sum += v;
        square += v * v;
        n += 1.0;
    }
    [[nodiscard]] double deviation() const { return std::sqrt(square / n - (sum / n) * (sum / n)); }
    [[nodiscard]] double mean() const { return sum / n; }
};

}  // namespace

TEST_CASE("minimax: the best line to a parabola is off by an eighth", "[analysis][minimax]") {
    // P. L. Chebyshev: x^2 on [0, 1] is T_2 of the interval / 8 away from x - 1/8, by algebra.
    const auto x = even(0.0, 1.0, 2001);
    const auto line = minimax_line(x, map(x, [](double v) { return v * v; }));
    REQUIRE(line);
    CHECK_THAT(line->slope, WithinAbs(1.0, 1e-12));
    CHECK_THAT(line->intercept, WithinAbs(-0.125, 1e-12));
    CHECK_THAT(line->worst_departure, WithinAbs(0.125, 1e-12));
    REQUIRE(line->touching.size() == 3);
    auto touching = line->touching;
    std::ranges::sort(touching, {}, &touching_point::index);
    CHECK(touching[0].index == 0);
    CHECK(touching[1].index == 1000);
    CHECK(touching[2].index == 2000);
    CHECK(touching[0].sign == 1);
    CHECK(touching[1].sign == -1);
    CHECK(touching[2].sign == 1);
}

TEST_CASE("minimax: the best parabola to x^4 on [-1, 1] is off by an eighth",
          "[analysis][minimax]") {
    // x^4 - T_4(x) / 8 = x^2 - 1/8 (Chebyshev polynomials, standard mathematics); 2001 points hold
    // the extremes 0, -1 and 1, and cos(pi / 4) to within 5e-4, where the error is flat.
    const auto x = even(-1.0, 1.0, 2001);
    std::vector<double> basis;
    for (const double v : x) basis.insert(basis.end(), {1.0, v, v * v});
    const auto fit = minimax_fit(basis, 3, map(x, [](double v) { return v * v * v * v; }));
    REQUIRE(fit);
    CHECK_THAT(fit->worst_departure, WithinAbs(0.125, 1e-6));
    CHECK_THAT(fit->coefficients[0], WithinAbs(-0.125, 1e-6));
    CHECK_THAT(fit->coefficients[1], WithinAbs(0.0, 1e-6));
    CHECK_THAT(fit->coefficients[2], WithinAbs(1.0, 1e-6));
}

TEST_CASE("minimax: no line is better than the best of all chords, nor is a nearby one",
          "[analysis][minimax]") {
    rc::prop("points at random, several at the same x", [] {
        const auto points = *rc::gen::container<std::vector<std::pair<int, int>>>(
            12, rc::gen::pair(rc::gen::inRange(-5, 6), rc::gen::inRange(-1000, 1000)));
        std::vector<double> x, y;
        for (const auto& [a, b] : points) {
            x.push_back(0.25 * a);
            y.push_back(0.01 * b);
        }
        RC_PRE(std::ranges::max(x) > std::ranges::min(x));
        const auto line = minimax_line(x, y);
        RC_ASSERT(line.has_value());
        const double worst = worst_of(x, y, line->intercept, line->slope);
        RC_ASSERT(std::abs(worst - line->worst_departure) < 1e-9);
        RC_ASSERT(std::abs(worst - least_by_all_chords(x, y)) < 1e-9);
        for (const double da : {-0.01, 0.0, 0.01})
            for (const double db : {-0.01, 0.0, 0.01})
                RC_ASSERT(worst_of(x, y, line->intercept + da, line->slope + db) >= worst - 1e-9);
    });
}

TEST_CASE("minimax: two readings at one place that differ most leave the slope to the rest",
          "[analysis][minimax]") {
    // At 2 the readings lie 4 apart, so 2 is the least worst departure whatever the slope. The
    // others, halfway between them, lie on 1 + x / 2 exactly.
    const std::vector<double> x{0, 1, 2, 2, 3, 4};
    const std::vector<double> y{1.0, 1.5, 0.0, 4.0, 2.5, 3.0};
    const auto line = minimax_line(x, y);
    REQUIRE(line);
    CHECK_THAT(line->worst_departure, WithinAbs(2.0, 1e-12));
    CHECK_THAT(line->slope, WithinAbs(0.5, 1e-12));
    CHECK_THAT(line->intercept, WithinAbs(1.0, 1e-12));
}

TEST_CASE("minimax: points on a line have no departure", "[analysis][minimax]") {
    const auto x = even(1000.0, 1001.0, 21);
    const auto line = minimax_line(x, map(x, [](double v) { return 3.0 - 0.7 * v; }));
    REQUIRE(line);
    CHECK_THAT(line->slope, WithinRel(-0.7, 1e-9));
    CHECK_THAT(line->at(1000.5), WithinAbs(3.0 - 700.35, 1e-10));
    CHECK_THAT(line->worst_departure, WithinAbs(0.0, 1e-10));
    const auto zero = minimax_line(x, std::vector<double>(x.size(), 0.0));
    REQUIRE(zero);
    CHECK_THAT(zero->worst_departure, WithinAbs(0.0, 1e-300));
    CHECK_THAT(zero->slope, WithinAbs(0.0, 1e-300));
}

TEST_CASE("minimax: a table gets the worst departure that another solver finds",
          "[analysis][minimax]") {
    // Outside reference: scipy.optimize.linprog (HiGHS) 1.10.1, run once on the same numbers:
    // y = exp(x / 2) + sin(9 x) / 5 at 121 places from -0.2 to 3.1, nodes 0, 0.5, 1, 1.5, 2, 3.
    const auto x = even(-0.2, 3.1, 121);
    const auto y = map(x, [](double v) { return std::exp(v / 2) + std::sin(9 * v) / 5; });
    const auto fit =
        minimax_fit(hat_basis(std::vector<double>{0, 0.5, 1, 1.5, 2, 3}, x).value(), 6, y);
    REQUIRE(fit);
    CHECK_THAT(fit->worst_departure, WithinAbs(0.22921359832981544, 1e-9));
}

TEST_CASE("minimax: a wild stretch of a table does not spoil the other stretches",
          "[analysis][minimax]") {
    // Left of 1 a parabola that is off by 1/8 at best; between 2 and 3 one of a tenth of its size,
    // off by 0.1 / 8 at best, by algebra as above. What lies between joins their best lines.
    const auto x = even(0.0, 4.0, 401);
    const auto y = map(x, [](double v) {
        if (v <= 1.0) return v * v;
        if (v < 2.0) return 0.875 + 0.1125 * (v - 1.0);
        return v <= 3.0 ? 1.0 + 0.1 * (v - 2.0) * (v - 2.0) : 1.0875;
    });
    const auto nodes = even(0.0, 4.0, 5);
    const auto basis = hat_basis(nodes, x).value();
    const auto fit = minimax_fit(basis, nodes.size(), y);
    REQUIRE(fit);
    CHECK_THAT(fit->worst_departure, WithinAbs(0.125, 1e-9));
    double right = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        const auto at = fit->predict(std::span{basis}.subspan(5 * i, 5)).value;
        if (x[i] >= 2.0) right = std::max(right, std::abs(y[i] - at));
    }
    CHECK_THAT(right, WithinAbs(0.0125, 1e-9));
}

TEST_CASE("minimax: where three points touch, the stated uncertainty is the scatter",
          "[analysis][minimax]") {
    // A parabola of departures far above the noise: ends and middle touch, no other point can.
    const std::vector<double> x{0.0, 0.1, 0.4, 1.0, 1.6, 1.9, 2.0};
    const auto quiet = map(x, [](double v) { return 3.0 + v + 0.5 * v * v; });
    constexpr double own = 0.003, common = 0.02;
    std::mt19937_64 random{11};
    std::normal_distribution<double> normal;
    scatter slope, intercept, worst, ahead;
    const auto stated = minimax_line(x, quiet, {{own}, common}).value();
    CHECK(stated.rivals == 0);
    for (int trial = 0; trial < 4000; ++trial) {
        auto y = quiet;
        const double shift = common * normal(random);
        for (double& v : y) v += own * normal(random) + shift;
        const auto line = minimax_line(x, y).value();
        slope.add(line.slope);
        intercept.add(line.intercept);
        worst.add(line.worst_departure);
        ahead.add(line.at(3.0));
    }
    // The deviation of 4000 trials is itself uncertain by 1.1 %; four of that.
    CHECK_THAT(slope.deviation() / stated.u_slope, WithinAbs(1.0, 0.045));
    CHECK_THAT(intercept.deviation() / stated.u_intercept, WithinAbs(1.0, 0.045));
    CHECK_THAT(worst.deviation() / stated.u_worst_departure, WithinAbs(1.0, 0.045));
    CHECK_THAT(ahead.deviation() / stated.predict(3.0).standard_uncertainty, WithinAbs(1.0, 0.045));
    // By algebra: the departure is (y_0 - 2 y_3 + y_6) / 4, the slope (y_6 - y_0) / 2.
    CHECK_THAT(stated.u_worst_departure, WithinRel(own * std::sqrt(6.0) / 4.0, 1e-9));
    CHECK_THAT(stated.u_slope, WithinRel(own / std::sqrt(2.0), 1e-9));
}

TEST_CASE("minimax: the entries of a table scatter as stated", "[analysis][minimax]") {
    const std::vector<double> nodes{0, 1, 2, 3};
    const auto x = even(0.0, 3.0, 13);
    const auto basis = hat_basis(nodes, x).value();
    const auto quiet =
        map(x, [](double v) { return std::sin(v) + 0.3 * v * v + 0.05 * v * v * v; });
    constexpr double own = 1e-4;
    const auto stated = minimax_fit(basis, 4, quiet, {{own}, 0.0}).value();
    CHECK(stated.rivals == 0);
    std::mt19937_64 random{12};
    std::normal_distribution<double> normal{0.0, own};
    std::vector<scatter> entries(4);
    scatter worst;
    for (int trial = 0; trial < 2000; ++trial) {
        auto y = quiet;
        for (double& v : y) v += normal(random);
        const auto fit = minimax_fit(basis, 4, y).value();
        for (std::size_t j = 0; j < 4; ++j) entries[j].add(fit.coefficients[j]);
        worst.add(fit.worst_departure);
    }
    // 1.6 % of 2000 trials, four of that.
    for (std::size_t j = 0; j < 4; ++j)
        CHECK_THAT(entries[j].deviation() / stated.standard_uncertainty(j), WithinAbs(1.0, 0.065));
    CHECK_THAT(worst.deviation() / stated.u_worst_departure, WithinAbs(1.0, 0.065));
}

TEST_CASE("minimax: where noise picks the points that touch, rivals say so",
          "[analysis][minimax]") {
    // Noise about a line and nothing else. The header states what is left of the uncertainty then.
    const auto x = even(0.0, 1.0, 25);
    constexpr double own = 0.01;
    std::mt19937_64 random{13};
    std::normal_distribution<double> normal{0.0, own};
    scatter slope, worst, stated_slope, stated_worst;
    int with_rivals = 0;
    for (int trial = 0; trial < 1000; ++trial) {
        std::vector<double> y;
        for (const double v : x) y.push_back(2.0 * v + normal(random));
        const auto line = minimax_line(x, y, {{own}, 0.0}).value();
        with_rivals += line.rivals_of_worst > 0 ? 1 : 0;
        slope.add(line.slope);
        worst.add(line.worst_departure);
        stated_slope.add(line.u_slope);
        stated_worst.add(line.u_worst_departure);
    }
    const double of_slope =
        slope.deviation() / std::hypot(stated_slope.mean(), stated_slope.deviation());
    const double of_worst =
        worst.deviation() / std::hypot(stated_worst.mean(), stated_worst.deviation());
    CAPTURE(of_slope, of_worst, worst.mean());
    CHECK(with_rivals > 990);
    CHECK_THAT(of_slope, WithinAbs(0.4, 0.1));
    CHECK_THAT(of_worst, WithinAbs(0.5, 0.1));
    CHECK_THAT(slope.mean(), WithinAbs(2.0, 4.0 * slope.deviation() / std::sqrt(1000.0)));
}

TEST_CASE("minimax: what cannot be fitted is refused by reason", "[analysis][minimax]") {
    const std::vector<double> x{0, 1, 2, 3};
    const std::vector<double> y{0, 1, 4, 9};
    const double nan = std::numeric_limits<double>::quiet_NaN();
    CHECK(minimax_line(x, std::vector<double>{1, 2, 3}).error() == refusal::bad_argument);
    CHECK(minimax_line(std::vector<double>{1, 2}, std::vector<double>{1, 2}).error() ==
          refusal::too_short);
    CHECK(minimax_line(std::vector<double>(4, 2.0), y).error() == refusal::bad_argument);
    CHECK(minimax_line(x, std::vector<double>{0, nan, 1, 2}).error() == refusal::not_finite);
    CHECK(minimax_line(x, y, {{-1.0}, 0.0}).error() == refusal::bad_argument);
    CHECK(minimax_line(x, y, {{0.1, 0.1}, 0.0}).error() == refusal::bad_argument);
    CHECK(minimax_fit(x, 0, y).error() == refusal::bad_argument);
    CHECK(minimax_fit(std::vector<double>(20, 1.0), 5, y).error() == refusal::too_short);
    // No reading bears on the entry at 9: what it should be cannot be told.
    const auto basis = hat_basis(std::vector<double>{0, 2, 4, 9}, x).value();
    CHECK(minimax_fit(basis, 4, y).error() == refusal::bad_argument);
}

TEST_CASE("a table goes straight between its entries and on beyond its ends",
          "[analysis][minimax]") {
    const std::vector<double> nodes{1, 2, 4};
    const std::vector<double> entries{10, 20, 0};
    const std::vector<double> x{0, 1, 1.25, 2, 3, 4, 5};
    const std::vector<double> expected{0, 10, 12.5, 20, 10, 0, -10};
    const auto weights = hat_basis(nodes, x).value();
    for (std::size_t i = 0; i < x.size(); ++i) {
        double at = 0.0;
        for (std::size_t j = 0; j < 3; ++j) at += weights[3 * i + j] * entries[j];
        CHECK_THAT(at, WithinAbs(expected[i], 1e-12));
    }
    CHECK(hat_basis(std::vector<double>{1}, x).error() == refusal::too_short);
    CHECK(hat_basis(nodes, {}).error() == refusal::too_short);
    CHECK(hat_basis(std::vector<double>{1, 1, 2}, x).error() == refusal::bad_argument);
    CHECK(hat_basis(std::vector<double>{1, NAN}, x).error() == refusal::not_finite);
}
