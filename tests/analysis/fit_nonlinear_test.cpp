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

using values = std::span<const double>;

/// y(x; p) and its derivatives by p, the two things a model is made of.
struct curve {
    double (*y)(double x, values p);
    void (*slopes)(double x, values p, std::span<double> out);
};

// The RC charge shape: Misra1a and BoxBOD.
const curve saturation{[](double x, values p) { return p[0] * (1 - std::exp(-p[1] * x)); },
                       [](double x, values p, std::span<double> d) {
                           d[0] = 1 - std::exp(-p[1] * x);
                           d[1] = p[0] * x * std::exp(-p[1] * x);
                       }};

const curve offset_and_two_exponentials{[](double x, values p) {
                                            return p[0] + p[1] * std::exp(-x * p[3]) +
                                                   p[2] * std::exp(-x * p[4]);
                                        },
                                        [](double x, values p, std::span<double> d) {
                                            const double e4 = std::exp(-x * p[3]);
                                            const double e5 = std::exp(-x * p[4]);
                                            d[0] = 1;
                                            d[1] = e4;
                                            d[2] = e5;
                                            d[3] = -x * p[1] * e4;
                                            d[4] = -x * p[2] * e5;
                                        }};

const curve three_exponentials{[](double x, values p) {
                                   return p[0] * std::exp(-p[1] * x) + p[2] * std::exp(-p[3] * x) +
                                          p[4] * std::exp(-p[5] * x);
                               },
                               [](double x, values p, std::span<double> d) {
                                   for (std::size_t i = 0; i < 6; i += 2) {
                                       d[i] = std::exp(-p[i + 1] * x);
                                       d[i + 1] = -x * p[i] * d[i];
                                   }
                               }};

const curve cubic_over_cubic{[](double x, values p) {
                                 return (p[0] + x * (p[1] + x * (p[2] + x * p[3]))) /
                                        (1 + x * (p[4] + x * (p[5] + x * p[6])));
                             },
                             [](double x, values p, std::span<double> d) {
                                 const double below = 1 + x * (p[4] + x * (p[5] + x * p[6]));
                                 const double y =
                                     (p[0] + x * (p[1] + x * (p[2] + x * p[3]))) / below;
                                 d[0] = 1 / below;
                                 for (std::size_t i = 1; i < 4; ++i) d[i] = d[i - 1] * x;
                                 d[4] = -y * d[1];
                                 d[5] = d[4] * x;
                                 d[6] = d[5] * x;
                             }};

fit_model model_of(const curve& c, std::span<const nist::point> points, bool analytic) {
    fit_model model;
    model.points = points.size();
    model.residuals = [c, points](values p, std::span<double> out) {
        for (std::size_t i = 0; i < points.size(); ++i) out[i] = c.y(points[i].x, p) - points[i].y;
    };
    if (analytic)
        model.jacobian = [c, points](values p, std::span<double> out) {
            for (std::size_t i = 0; i < points.size(); ++i)
                c.slopes(points[i].x, p, out.subspan(i * p.size(), p.size()));
        };
    return model;
}

struct trial {
    nist::data_set set;
    curve model;
    double tolerance;             ///< relative, analytic derivatives
    double tolerance_difference;  ///< relative, differences instead
};

// Certified to 11 digits, so 1e-10 would be the best to ask for; differences lose digits where
// the parameters are nearly dependent (three exponentials, rational function).
std::vector<trial> trials() {
    return {
        {{"Misra1a",
          nist::misra1a_points,
          {{500, 250, 2.3894212918e+02, 2.7070075241e+00},
           {0.0001, 0.0005, 5.5015643181e-04, 7.2668688436e-06}},
          1.2455138894e-01},
         saturation,
         1e-9,
         1e-7},
        {{"BoxBOD",
          nist::boxbod_points,
          {{1, 100, 2.1380940889e+02, 1.2354515176e+01},
           {1, 0.75, 5.4723748542e-01, 1.0455993237e-01}},
          1.1680088766e+03},
         saturation,
         1e-9,
         1e-7},
        {{"MGH17",
          nist::mgh17_points,
          {{50, 0.5, 3.7541005211e-01, 2.0723153551e-03},
           {150, 1.5, 1.9358469127e+00, 2.2031669222e-01},
           {-100, -1, -1.4646871366e+00, 2.2175707739e-01},
           {1, 0.01, 1.2867534640e-02, 4.4861358114e-04},
           {2, 0.02, 2.2122699662e-02, 8.9471996575e-04}},
          5.4648946975e-05},
         offset_and_two_exponentials,
         1e-8,
         1e-6},
        {{"Lanczos3",
          nist::lanczos3_points,
          {{1.2, 0.5, 8.6816414977e-02, 1.7197908859e-02},
           {0.3, 0.7, 9.5498101505e-01, 9.7041624475e-02},
           {5.6, 3.6, 8.4400777463e-01, 4.1488663282e-02},
           {5.5, 4.2, 2.9515951832e+00, 1.0766312506e-01},
           {6.5, 4.0, 1.5825685901e+00, 5.8371576281e-02},
           {7.6, 6.3, 4.9863565084e+00, 3.4436403035e-02}},
          1.6117193594e-08},
         three_exponentials,
         1e-8,
         1e-4},
        {{"Hahn1",
          nist::hahn1_points,
          {{10, 1, 1.0776351733e+00, 1.7070154742e-01},
           {-1, -0.1, -1.2269296921e-01, 1.2000289189e-02},
           {0.05, 0.005, 4.0863750610e-03, 2.2508314937e-04},
           {-0.00001, -0.000001, -1.4262662514e-06, 2.7578037666e-07},
           {-0.05, -0.005, -5.7609940901e-03, 2.4712888219e-04},
           {0.001, 0.0001, 2.4053735503e-04, 1.0449373768e-05},
           {-0.000001, -0.0000001, -1.2314450199e-07, 1.3027335327e-08}},
          1.5324382854e+00},
         cubic_over_cubic,
         1e-8,
         1e-5},
    };
}

std::vector<double> start_of(const nist::data_set& set, bool first) {
    std::vector<double> start;
    for (const auto& p : set.parameters) start.push_back(first ? p.start_1 : p.start_2);
    return start;
}

void check_against(const nist::data_set& set, const nonlinear_fit& fit, double tolerance) {
    CHECK_THAT(fit.rss, WithinRel(set.rss, 1e-9));
    CHECK(fit.degrees_of_freedom == set.points.size() - set.parameters.size());
    for (std::size_t i = 0; i < set.parameters.size(); ++i) {
        CAPTURE(i);
        CHECK_THAT(fit.parameters[i], WithinRel(set.parameters[i].value, tolerance));
        CHECK_THAT(fit.standard_uncertainty(i), WithinRel(set.parameters[i].deviation, tolerance));
    }
}

}  // namespace

TEST_CASE("a nonlinear fit gives the certified values of NIST StRD from both start points",
          "[analysis][fit]") {
    for (const auto& t : trials()) {
        for (const bool first : {true, false}) {
            CAPTURE(t.set.name, first);
            const auto fit =
                fit_nonlinear(model_of(t.model, t.set.points, true), start_of(t.set, first));
            REQUIRE(fit);
            check_against(t.set, *fit, t.tolerance);
        }
    }
}

TEST_CASE("without derivatives a fit still gives the certified values of NIST StRD",
          "[analysis][fit]") {
    for (const auto& t : trials()) {
        for (const bool first : {true, false}) {
            CAPTURE(t.set.name, first);
            const auto fit =
                fit_nonlinear(model_of(t.model, t.set.points, false), start_of(t.set, first));
            REQUIRE(fit);
            check_against(t.set, *fit, t.tolerance_difference);
        }
    }
}

TEST_CASE("a fit of a model linear in its parameters is the straight line of GUM H.3",
          "[analysis][fit]") {
    // JCGM 100:2008, H.3.3: r(y1, y2) = -0.930, printed to three decimals.
    const std::vector<double> t{21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                                24.513, 25.002, 25.503, 26.010, 26.511};
    const std::vector<double> b{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                                -0.156, -0.157, -0.159, -0.161, -0.160};
    fit_model model;
    model.points = t.size();
    model.residuals = [&](values p, std::span<double> out) {
        for (std::size_t i = 0; i < t.size(); ++i) out[i] = p[0] + p[1] * (t[i] - 20) - b[i];
    };
    const auto fit = fit_nonlinear(model, std::vector<double>{0, 0}).value();
    CHECK_THAT(fit.correlation(0, 1), WithinAbs(-0.930, 5e-4));
    CHECK_THAT(fit.standard_uncertainty(0), WithinAbs(0.0029, 5e-5));
    CHECK_THAT(fit.parameters[1], WithinAbs(0.00218, 5e-6));
}

TEST_CASE("an exact model is fitted to rounding", "[analysis][fit]") {
    fit_model model;
    model.points = 40;
    model.residuals = [](values p, std::span<double> out) {
        for (std::size_t i = 0; i < out.size(); ++i) {
            const double t = static_cast<double>(i) * 1e-3;
            out[i] = p[0] + p[1] * std::exp(-t / p[2]) - (1.0 - 0.5 * std::exp(-t / 0.022));
        }
    };
    const auto fit = fit_nonlinear(model, std::vector<double>{0.8, -0.3, 0.01}).value();
    CHECK_THAT(fit.parameters[2], WithinAbs(0.022, 1e-10));
    CHECK(fit.rss < 1e-20);
}

TEST_CASE("a fit survives trial points at which the model has no value", "[analysis][fit]") {
    // sqrt(x - p1) has none for p1 above the first x, and the start leads there.
    fit_model model;
    model.points = 20;
    model.residuals = [](values p, std::span<double> out) {
        for (std::size_t i = 0; i < out.size(); ++i) {
            const double x = 1.0 + static_cast<double>(i);
            out[i] = p[0] * std::sqrt(x - p[1]) - 2.0 * std::sqrt(x - 0.95);
        }
    };
    const auto fit = fit_nonlinear(model, std::vector<double>{6.0, -30.0});
    REQUIRE(fit);
    CHECK_THAT(fit->parameters[0], WithinAbs(2.0, 1e-8));
    CHECK_THAT(fit->parameters[1], WithinAbs(0.95, 1e-8));
}

TEST_CASE("a nonlinear fit that cannot be trusted is refused by reason", "[analysis][fit]") {
    fit_model twin;  // two parameters that only act as a sum cannot be told apart
    twin.points = 5;
    twin.residuals = [](values p, std::span<double> out) {
        for (std::size_t i = 0; i < out.size(); ++i)
            out[i] = (p[0] + p[1]) * static_cast<double>(i) - 1.0;
    };
    CHECK(fit_nonlinear(twin, std::vector<double>{1, 1}).error() == refusal::no_fit);
    CHECK(fit_nonlinear(twin, std::vector<double>{1, 1, 1, 1, 1}).error() == refusal::too_short);
    CHECK(fit_nonlinear(twin, std::vector<double>{}).error() == refusal::bad_argument);
    CHECK(fit_nonlinear(fit_model{5, {}, {}}, std::vector<double>{1}).error() ==
          refusal::bad_argument);
    const double not_a_number = std::numeric_limits<double>::quiet_NaN();
    CHECK(fit_nonlinear(twin, std::vector<double>{not_a_number, 1}).error() == refusal::not_finite);
    CHECK(fit_nonlinear(model_of(saturation, nist::misra1a_points, true),
                        std::vector<double>{500, 0.0001}, {.most_evaluations = 3})
              .error() == refusal::no_fit);
}
