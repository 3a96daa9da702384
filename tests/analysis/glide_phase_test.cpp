#include "analysis/glide_phase.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/synthetic_glide.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::analysis::gliding;
using Catch::Matchers::WithinAbs;

namespace {

glide_law law_of(const testing::synthetic_glide& g) {
    return {g.shape, {std::log(g.from_hz), std::log(g.to_hz), std::log(g.tau_s), g.start_s}};
}

testing::synthetic_glide wide_glide(glide_shape shape, double semitones) {
    testing::synthetic_glide g;
    g.shape = shape;
    g.from_hz = 90;
    g.to_hz = 90 * std::pow(2.0, semitones / 12);
    return g;
}

double difference_quotient(const glide_law& law, double t_s, std::size_t place) {
    constexpr double h = 1e-6;
    glide_law above = law, below = law;
    above.at[place] += h;
    below.at[place] -= h;
    return (phase_law{above}.cycles(t_s) - phase_law{below}.cycles(t_s)) / (2 * h);
}

double left_of_octave_cents(double t_s, double tau_s) {
    const glide_law law{glide_shape::exponential_in_volts,
                        {std::log(220.0), std::log(110.0), std::log(tau_s), 0.0}};
    return interval(hertz{phase_law{law}(t_s).pitch_hz}, hertz{110}).value();
}

}  // namespace

TEST_CASE("glide phase: a law agrees with numerical quadrature of its pitch", "[analysis][glide]") {
    const auto shape = GENERATE(glide_shape::exponential_in_volts,
                                glide_shape::exponential_in_hertz, glide_shape::linear_in_volts);
    const double semitones = GENERATE(-48.0, -12.0, -1.0, 0.0, 1.0, 12.0, 48.0);
    const auto g = wide_glide(shape, semitones);
    const phase_law phase{law_of(g)};
    for (const double t : {-0.05, 0.1, 0.151, 0.16, 0.19, 0.25, 0.6}) {
        CAPTURE(semitones, t);
        // The quadrature itself is good to about 1e-11 cycles here.
        CHECK_THAT(phase.cycles(t), WithinAbs(testing::phase_by_quadrature(g, t), 1e-10));
        CHECK_THAT(phase(t).pitch_hz, WithinAbs(testing::pitch_of(g, t), 1e-9));
    }
}

TEST_CASE("glide phase: derivatives agree with difference quotients", "[analysis][glide]") {
    const auto shape = GENERATE(glide_shape::exponential_in_volts,
                                glide_shape::exponential_in_hertz, glide_shape::linear_in_volts);
    const double semitones = GENERATE(-24.0, -0.01, 1.0, 24.0);
    const glide_law law = law_of(wide_glide(shape, semitones));
    for (const double t : {0.1, 0.155, 0.165, 0.3})
        for (std::size_t k = 0; k < law_places; ++k) {
            CAPTURE(semitones, t, k);
            // Truncation h^2 times a third derivative below 1e4, and rounding 1e-14 / h.
            CHECK_THAT(phase_law{law}(t).by[k], WithinAbs(difference_quotient(law, t, k), 3e-6));
        }
}

TEST_CASE("glide phase: a glide sets off from where the one before it has got to",
          "[analysis][glide]") {
    const double since_s = GENERATE(0.03, 0.12, 0.25);
    glide_law law{glide_shape::exponential_in_volts,
                  {std::log(110.0), std::log(220.0), std::log(0.022), 0.3}};
    law.before = glide_before{std::log(175.0), since_s};
    testing::synthetic_glide g;
    g.from_hz = 110.0;
    g.to_hz = 220.0;
    g.start_s = 0.3;
    g.earlier_from_hz = 175.0;
    g.earlier_s = since_s;
    const phase_law phase{law};
    // Both starts lie between two pieces.
    for (double t = 0.26 - since_s; t < 0.5; t += 0.002) {
        CAPTURE(t);
        CHECK_THAT(phase(t).pitch_hz, WithinAbs(testing::pitch_of(g, t), 1e-9));
        // Simpson's rule, 2 ms at a time without a kink inside: below 1e-7 cycles each, from its
        // error term with a fourth derivative of 110 Hz / tau^4.
        const double third = testing::pitch_of(g, t) + 4 * testing::pitch_of(g, t + 0.001) +
                             testing::pitch_of(g, t + 0.002);
        CHECK_THAT(phase.cycles(t + 0.002) - phase.cycles(t), WithinAbs(third * 0.002 / 6, 1e-7));
    }
}

TEST_CASE("glide phase: derivatives with a glide before agree with difference quotients",
          "[analysis][glide]") {
    const auto shape = GENERATE(glide_shape::exponential_in_volts,
                                glide_shape::exponential_in_hertz, glide_shape::linear_in_volts);
    // One that is over, one that is on its way.
    const double since_s = GENERATE(0.22, 0.02);
    glide_law law{shape, {std::log(110.0), std::log(220.0), std::log(0.022), 0.3}};
    law.before = glide_before{std::log(175.0), since_s};
    for (const double t : {0.05, 0.291, 0.31, 0.45})
        for (std::size_t k = 0; k < law_places; ++k) {
            CAPTURE(t, k, since_s);
            // As without a glide before.
            CHECK_THAT(phase_law{law}(t).by[k], WithinAbs(difference_quotient(law, t, k), 3e-6));
        }
}

TEST_CASE("glide phase: an RC slide takes the times that its arithmetic gives",
          "[analysis][glide]") {
    // First-order step response, any textbook on linear circuits: 10-90 % in ln 9 time constants.
    // 100 kilohm times 220 nF is 22 ms (common practice, no source).
    const double tau = 100e3 * 220e-9;
    CHECK_THAT(tau, WithinAbs(0.022, 1e-15));
    CHECK_THAT(left_of_octave_cents(-std::log(0.9) * tau, tau), WithinAbs(1080.0, 1e-9));
    CHECK_THAT(left_of_octave_cents((2.197224577 - std::log(0.9)) * tau, tau),
               WithinAbs(120.0, 1e-6));
    CHECK_THAT(left_of_octave_cents(0.060, tau), WithinAbs(78.0, 0.5));
    CHECK_THAT(left_of_octave_cents(std::log(1200.0 / 5) * tau, tau), WithinAbs(5.0, 1e-9));
    CHECK_THAT(std::log(1200.0 / 5), WithinAbs(5.48, 0.005));
}
