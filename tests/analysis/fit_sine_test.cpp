#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <vector>

#include "analysis/fit.hpp"

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

using values = std::span<const double>;

// 0.25 + 0.8 cos(2 pi 0.1234 n) - 0.6 sin(2 pi 0.1234 n) with noise, rounded to four decimals.
const std::vector<double> sine_record{1.0531,  0.3975,  -0.3303, -0.7431, -0.5731, 0.0588,  0.8027,
                                      1.2250,  1.0908,  0.4778,  -0.2602, -0.7248, -0.6204, -0.0164,
                                      0.7376,  1.2172,  1.1418,  0.5570,  -0.1954, -0.6926, -0.6587,
                                      -0.0916, 0.6642,  1.1908,  1.1668,  0.6321,  -0.1187, -0.6610,
                                      -0.6917, -0.1797, 0.5909,  1.1397};

/// A cos(w n) + B sin(w n) + C; the frequency in cycles per sample is fixed or the fourth
/// parameter.
fit_model sine_model(double fixed_frequency) {
    fit_model model;
    model.points = sine_record.size();
    model.residuals = [fixed_frequency](values p, std::span<double> out) {
        const double w = 2 * std::numbers::pi * (p.size() > 3 ? p[3] : fixed_frequency);
        for (std::size_t n = 0; n < out.size(); ++n) {
            const double angle = w * static_cast<double>(n);
            out[n] = p[0] * std::cos(angle) + p[1] * std::sin(angle) + p[2] - sine_record[n];
        }
    };
    return model;
}

}  // namespace

TEST_CASE("a fit of a sine of known frequency is the three-parameter fit of IEEE 1057",
          "[analysis][fit]") {
    // IEEE Std 1057-2017, annex on the three-parameter fit (formulas from memory); the expected
    // values were computed from the same record in 40-digit arithmetic with those formulas.
    const auto fit = fit_nonlinear(sine_model(0.1234), std::vector<double>{0, 0, 0}).value();
    CHECK_THAT(fit.parameters[0], WithinAbs(0.801380926695072, 1e-12));
    CHECK_THAT(fit.parameters[1], WithinAbs(-0.601290628005662, 1e-12));
    CHECK_THAT(fit.parameters[2], WithinAbs(0.250269728582551, 1e-12));
    CHECK_THAT(fit.rss, WithinRel(8.1919799727287e-04, 1e-11));
}

TEST_CASE("a fit of a sine of unknown frequency is the four-parameter fit of IEEE 1057",
          "[analysis][fit]") {
    // IEEE Std 1057-2017, annex on the four-parameter fit, from a start 3 % off; expected values
    // as above. Differences instead of derivatives cost about six digits of the uncertainties.
    const auto fit =
        fit_nonlinear(sine_model(0), std::vector<double>{0.8, -0.6, 0.25, 0.12}).value();
    CHECK_THAT(fit.parameters[0], WithinAbs(0.800184612777781, 1e-9));
    CHECK_THAT(fit.parameters[1], WithinAbs(-0.603047930681957, 1e-9));
    CHECK_THAT(fit.parameters[2], WithinAbs(0.250452951902694, 1e-9));
    CHECK_THAT(fit.parameters[3], WithinAbs(0.123378043275388, 1e-11));
    CHECK_THAT(fit.rss, WithinRel(7.93504562412302e-04, 1e-10));
    CHECK_THAT(fit.residual_sd, WithinRel(0.00532348087792022, 1e-10));
    CHECK_THAT(fit.standard_uncertainty(0), WithinRel(0.00183505650897, 1e-7));
    CHECK_THAT(fit.standard_uncertainty(1), WithinRel(0.00227081442887, 1e-7));
    CHECK_THAT(fit.standard_uncertainty(2), WithinRel(0.000960679462065, 1e-7));
    CHECK_THAT(fit.standard_uncertainty(3), WithinRel(2.30419822838e-05, 1e-7));
}
