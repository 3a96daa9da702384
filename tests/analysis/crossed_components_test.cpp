#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

#include "analysis/variance_components.hpp"

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

// Diameters of inhibition, 24 plates by 6 samples: O. L. Davies and P. L. Goldsmith, "Statistical
// Methods in Research and Production", 4th edition 1972, Table 6.6; as data set Penicillin of lme4.
constexpr int penicillin[24][6] = {
    {27, 23, 26, 23, 23, 21}, {27, 23, 26, 23, 23, 21}, {25, 21, 25, 24, 24, 20},
    {26, 23, 25, 23, 23, 20}, {25, 22, 26, 22, 23, 20}, {24, 22, 25, 23, 22, 19},
    {24, 20, 23, 21, 22, 19}, {26, 22, 26, 24, 24, 21}, {24, 21, 24, 22, 22, 20},
    {24, 21, 24, 23, 22, 19}, {26, 23, 26, 24, 24, 21}, {25, 22, 26, 24, 24, 20},
    {26, 24, 26, 24, 25, 22}, {26, 23, 26, 23, 23, 20}, {26, 23, 25, 24, 24, 22},
    {25, 22, 25, 23, 23, 20}, {25, 21, 24, 23, 23, 20}, {25, 22, 24, 23, 23, 19},
    {24, 21, 23, 21, 21, 19}, {26, 23, 26, 24, 24, 21}, {25, 21, 24, 22, 22, 18},
    {25, 22, 25, 22, 22, 20}, {24, 21, 24, 22, 24, 19}, {24, 21, 24, 22, 21, 18}};

std::vector<crossed_observation> plates_and_samples() {
    std::vector<crossed_observation> out;
    for (std::size_t i = 0; i < 24; ++i)
        for (std::size_t j = 0; j < 6; ++j)
            out.push_back({i, j, static_cast<double>(penicillin[i][j])});
    return out;
}

struct scene {
    std::size_t units, builds, repeats;
    double unit, build, rest;
    double left_out;  // share of cells that stay empty
};

struct drawn {
    std::vector<crossed_observation> observed;
    std::vector<double> unit_effects;
};

drawn draw(const scene& s, std::mt19937_64& random) {
    std::normal_distribution<double> normal;
    std::uniform_real_distribution<double> even;
    drawn out;
    std::vector<double> builds;
    for (std::size_t u = 0; u < s.units; ++u) out.unit_effects.push_back(s.unit * normal(random));
    for (std::size_t b = 0; b < s.builds; ++b) builds.push_back(s.build * normal(random));
    for (std::size_t u = 0; u < s.units; ++u)
        for (std::size_t b = 0; b < s.builds; ++b) {
            if (u % s.builds != b && even(random) < s.left_out) continue;
            for (std::size_t r = 0; r < s.repeats; ++r)
                out.observed.push_back(
                    {u, b, 10.0 + out.unit_effects[u] + builds[b] + s.rest * normal(random)});
        }
    return out;
}

bool holds(const variance_component& c, double variance) {
    return c.lower <= variance && variance <= c.upper;
}

}  // namespace

TEST_CASE("crossed: the penicillin assay gives the published components",
          "[analysis][variance_components]") {
    // D. Bates et al. 2015, J. Stat. Software 67, and the documentation of lme4: REML standard
    // deviations 0.8467 (plate), 1.9316 (sample), 0.5499; mean 22.9722, its standard error 0.8086.
    const auto r = measure_crossed(plates_and_samples(), 24, 6);
    REQUIRE(r);
    CHECK_THAT(std::sqrt(r->unit.variance), WithinAbs(0.8467, 5e-5));
    CHECK_THAT(std::sqrt(r->build.variance), WithinAbs(1.9316, 5e-5));
    CHECK_THAT(std::sqrt(r->residual.variance), WithinAbs(0.5499, 5e-5));
    CHECK_THAT(r->mean, WithinAbs(22.9722, 5e-5));
    CHECK_THAT(r->u_mean, WithinAbs(0.8086, 5e-5));
    CHECK(r->freedom == 144 - 24 - 6 + 1);
    for (const auto* c : {&r->unit, &r->build, &r->residual}) {
        CHECK(c->lower < c->variance);
        CHECK(c->variance < c->upper);
    }
}

TEST_CASE("crossed: a balanced design gives the analysis of variance",
          "[analysis][variance_components]") {
    // By algebra: with r_u = MS_unit etc., unit = (MS_unit - MS_rest) / builds; the prediction of a
    // unit is its mean about the grand mean, shrunk by unit / (unit + rest / builds).
    double row[24] = {}, column[6] = {}, grand = 0.0;
    for (std::size_t i = 0; i < 24; ++i)
        for (std::size_t j = 0; j < 6; ++j) {
            row[i] += penicillin[i][j] / 6.0;
            column[j] += penicillin[i][j] / 24.0;
            grand += penicillin[i][j] / 144.0;
        }
    double rows = 0.0, columns = 0.0, rest = 0.0;
    for (std::size_t i = 0; i < 24; ++i) {
        rows += 6.0 * std::pow(row[i] - grand, 2) / 23.0;
        for (std::size_t j = 0; j < 6; ++j)
            rest += std::pow(penicillin[i][j] - row[i] - column[j] + grand, 2) / 115.0;
    }
    for (const double c : column) columns += 24.0 * std::pow(c - grand, 2) / 5.0;
    const auto r = measure_crossed(plates_and_samples(), 24, 6).value();
    CHECK_THAT(r.unit.variance, WithinRel((rows - rest) / 6.0, 1e-5));
    CHECK_THAT(r.build.variance, WithinRel((columns - rest) / 24.0, 1e-5));
    CHECK_THAT(r.residual.variance, WithinRel(rest, 1e-5));
    const double shrunk = (rows - rest) / rows;
    for (std::size_t i = 0; i < 24; ++i)
        CHECK_THAT(r.unit_effects[i].value, WithinAbs(shrunk * (row[i] - grand), 1e-5));
    for (std::size_t j = 0; j < 6; ++j)
        CHECK_THAT(r.build_effects[j].value,
                   WithinAbs((columns - rest) / columns * (column[j] - grand), 1e-4));
}

TEST_CASE("crossed: which is called unit and which build does not matter",
          "[analysis][variance_components]") {
    std::mt19937_64 random{51};
    const auto d = draw({9, 4, 2, 1.0, 0.5, 0.3, 0.3}, random);
    auto turned = d.observed;
    for (auto& o : turned) std::swap(o.unit, o.build);
    const auto a = measure_crossed(d.observed, 9, 4).value();
    const auto b = measure_crossed(turned, 4, 9).value();
    CHECK_THAT(a.unit.variance, WithinRel(b.build.variance, 1e-4));
    CHECK_THAT(a.build.variance, WithinRel(b.unit.variance, 1e-4));
    CHECK_THAT(a.unit.lower, WithinRel(b.build.lower, 1e-3));
    CHECK_THAT(a.unit.upper, WithinRel(b.build.upper, 1e-3));
    CHECK_THAT(a.unit_effects[3].value, WithinAbs(b.build_effects[3].value, 1e-4));
    CHECK_THAT(a.unit_effects[3].u, WithinRel(b.build_effects[3].u, 1e-3));
}

TEST_CASE("crossed: unit and scale of the readings do not matter",
          "[analysis][variance_components]") {
    std::mt19937_64 random{52};
    auto d = draw({8, 5, 1, 1.0, 0.5, 0.3, 0.2}, random).observed;
    const auto a = measure_crossed(d, 8, 5).value();
    for (auto& o : d) o.value = 440.0 + 1e-4 * o.value;
    const auto b = measure_crossed(d, 8, 5).value();
    CHECK_THAT(b.unit.variance, WithinRel(1e-8 * a.unit.variance, 1e-4));
    CHECK_THAT(b.build.variance, WithinRel(1e-8 * a.build.variance, 1e-4));
    CHECK_THAT(b.residual.upper, WithinRel(1e-8 * a.residual.upper, 1e-3));
    CHECK_THAT(b.mean, WithinAbs(440.0 + 1e-4 * a.mean, 1e-8));
}

TEST_CASE("crossed: limits and predictions hold as often as they say",
          "[analysis][variance_components]") {
    // Cells left empty at random. A bound of four standard deviations of a share of 200 below 95 %
    // is 0.888.
    const auto s =
        GENERATE(scene{12, 5, 1, 1.0, 0.7, 0.5, 0.25}, scene{20, 3, 2, 1.0, 0.3, 0.5, 0.25});
    CAPTURE(s.units);
    std::mt19937_64 random{53};
    constexpr int trials = 200;
    int unit = 0, build = 0, rest = 0, predicted = 0;
    double variances = 0.0;
    for (int t = 0; t < trials; ++t) {
        const auto d = draw(s, random);
        const auto r = measure_crossed(d.observed, s.units, s.builds);
        REQUIRE(r);
        unit += holds(r->unit, s.unit * s.unit) ? 1 : 0;
        build += holds(r->build, s.build * s.build) ? 1 : 0;
        rest += holds(r->residual, s.rest * s.rest) ? 1 : 0;
        const auto& e = r->unit_effects[2];
        predicted += std::abs(e.value - d.unit_effects[2]) <= 1.96 * e.u ? 1 : 0;
        variances += r->unit.variance / trials;
    }
    CAPTURE(unit, build, rest, predicted, variances);
    CHECK(unit / double{trials} > 0.888);
    CHECK(build / double{trials} > 0.888);
    CHECK(rest / double{trials} > 0.888);
    CHECK(predicted / double{trials} > 0.888);
    CHECK_THAT(variances, WithinRel(s.unit * s.unit, 0.15));
}

TEST_CASE("crossed: components of very different size are told apart",
          "[analysis][variance_components]") {
    const auto s =
        GENERATE(scene{20, 4, 1, 1000.0, 0.5, 0.01, 0.3}, scene{30, 5, 1, 1.0, 10000.0, 1.0, 0.4});
    CAPTURE(s.unit);
    std::mt19937_64 random{55};
    const auto r = measure_crossed(draw(s, random).observed, s.units, s.builds, 0.9999).value();
    CHECK(holds(r.unit, s.unit * s.unit));
    CHECK(holds(r.build, s.build * s.build));
    CHECK(holds(r.residual, s.rest * s.rest));
    // Not left open by rounding. Four levels alone give 99.99 % limits a factor of 30 away in
    // deviation (chi-square of 3 degrees of freedom at 5e-5: 0.0033, by its series).
    for (const auto* c : {&r.unit, &r.build, &r.residual}) {
        CHECK(c->lower > 1e-4 * c->variance);
        CHECK(c->upper < 1e4 * c->variance);
    }
}

TEST_CASE("crossed: units that are all alike have no scatter of their own",
          "[analysis][variance_components]") {
    std::mt19937_64 random{54};
    int at_nothing = 0;
    for (int t = 0; t < 40; ++t) {
        const auto d = draw({10, 4, 1, 0.0, 1.0, 0.5, 0.0}, random);
        const auto r = measure_crossed(d.observed, 10, 4).value();
        if (r.unit.variance > 0.0) continue;
        ++at_nothing;
        CHECK_THAT(r.unit.lower, WithinAbs(0.0, 1e-300));
        CHECK(r.unit.upper > 0.0);
        CHECK(r.unit.upper < 1.0);
        for (const auto& e : r.unit_effects) CHECK_THAT(e.value, WithinAbs(0.0, 1e-300));
    }
    // In about half the cases (F below its median), by four standard deviations.
    CHECK(at_nothing > 8);
    CHECK(at_nothing < 36);
}

TEST_CASE("crossed: what cannot be told apart is refused", "[analysis][variance_components]") {
    using list = std::vector<crossed_observation>;
    const list good{{0, 0, 1}, {0, 1, 2}, {1, 0, 3}, {1, 1, 5}};
    CHECK(measure_crossed(good, 2, 2));
    CHECK(measure_crossed(good, 2, 1).error() == refusal::bad_argument);
    CHECK(measure_crossed(good, 3, 2).error() == refusal::bad_argument);
    CHECK(measure_crossed(good, 2, 2, 1.0).error() == refusal::bad_argument);
    // One build only: how builds differ cannot be seen.
    CHECK(measure_crossed(list{{0, 0, 1}, {1, 0, 2}, {2, 0, 4}}, 3, 1).error() ==
          refusal::too_short);
    // Each unit ran its own build: either may be the cause.
    CHECK(measure_crossed(list{{0, 0, 1}, {0, 0, 2}, {1, 1, 3}, {1, 1, 5}, {2, 2, 4}, {2, 2, 7}}, 3,
                          3)
              .error() == refusal::no_contrast);
    // Nothing is left beyond the sum of unit and build.
    CHECK(measure_crossed(list{{0, 0, 1}, {0, 1, 2}, {1, 0, 3}, {1, 1, 4}, {2, 0, 7}, {2, 1, 8}}, 3,
                          2)
              .error() == refusal::no_contrast);
    CHECK(measure_crossed(list{{0, 0, 1}, {0, 1, 2}, {1, 0, 3}}, 2, 2).error() ==
          refusal::too_short);
    CHECK(measure_crossed(list{{0, 0, NAN}, {0, 1, 2}, {1, 0, 3}, {1, 1, 5}}, 2, 2).error() ==
          refusal::not_finite);
}
