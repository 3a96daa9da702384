#include "analysis/zipper.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>

#include "analysis/control_course.hpp"
#include "analysis/plateaus.hpp"
#include "tests/analysis/synthesis.hpp"

using namespace cvrig;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

constexpr seconds spacing{1e-3};

// A slow way with a bend, taken in steps of `step` at `rate` per second; 0: smoothly.
double way(double t, double rate_hz) {
    const double taken = rate_hz > 0.0 ? std::floor(t * rate_hz) / rate_hz : t;
    return 800.0 * taken + 30.0 * t * t;
}

std::vector<double> course(double rate_hz, double noise, unsigned long long seed) {
    std::vector<double> out;
    for (int i = 0; i < 720; ++i) {
        // The mean of a millisecond, as from the phase advance of a tone.
        double sum = 0.0;
        for (int k = 0; k < 100; ++k) sum += way(1e-3 * (i + (k + 0.5) / 100.0), rate_hz) / 100.0;
        out.push_back(sum);
    }
    return synthesis::sum(out, synthesis::noise(out.size(), noise, seed));
}

analysis::zipper_reading zipper_of(const std::vector<double>& x) {
    const auto found = analysis::find_zipper(x, spacing, {.flat_window = spacing});
    REQUIRE(found);
    return *found;
}

}  // namespace

TEST_CASE("zipper: steps are as high and as many as they are", "[analysis][zipper]") {
    const double rate = GENERATE(23.3, 50.0, 133.3, 187.3);
    CAPTURE(rate);
    const auto found = zipper_of(course(rate, 0.01, 3));
    CHECK(found.stands_out);
    // Stated in the header: 3 %.
    CHECK_THAT(found.step, WithinRel(800.0 / rate, 0.03));
    CHECK_THAT(found.rate.value(), WithinAbs(rate, 0.15));
    CHECK_THAT(found.step, WithinAbs(800.0 / rate, 3.0 * found.u_step));
}

TEST_CASE("zipper: a smooth way stands out no more often than one time in ten thousand",
          "[analysis][zipper]") {
    // 300 records; one alarm or more comes with a probability of 3 %, two or more of 0.05 %.
    int alarms = 0;
    for (unsigned long long seed = 1; seed <= 300; ++seed)
        alarms += zipper_of(course(0.0, 0.05, seed)).stands_out ? 1 : 0;
    CHECK(alarms <= 1);
}

TEST_CASE("zipper: twice the way in the same steps reads twice as high", "[analysis][zipper]") {
    auto x = course(50.0, 0.0, 1);
    const double once = zipper_of(x).step;
    CHECK_THAT(zipper_of(synthesis::scaled(x, 2.0)).step, WithinRel(2.0 * once, 1e-9));
}

TEST_CASE("zipper: steps are as high as what lies between them says", "[analysis][zipper]") {
    const double rate = GENERATE(23.3, 50.0, 133.3, 187.3);
    const double sign = GENERATE(1.0, -1.0);
    CAPTURE(rate, sign);
    std::vector<double> x;
    for (int i = 0; i < 720; ++i) x.push_back(sign * 800.0 * std::floor(1e-3 * i * rate) / rate);
    x = synthesis::sum(x, synthesis::noise(x.size(), 0.01, 7));
    const auto found = analysis::find_zipper(x, spacing, {});
    REQUIRE(found);
    const auto between = analysis::steps_of_plateaus(x, spacing, seconds{0.0}, *found);
    REQUIRE(between);
    // Stated in the header: 0.1 %.
    CHECK_THAT(between->step, WithinRel(800.0 / rate, 0.001));
    CHECK(between->u_pattern == 0.0);
    CHECK_THAT(between->step,
               WithinAbs(800.0 / rate, 3.0 * std::hypot(between->u_step, between->u_settling,
                                                        between->u_timing)));
}

TEST_CASE("zipper: the first step is at the time of a step, whether they go up or down",
          "[analysis][zipper]") {
    const double rate = GENERATE(23.3, 50.0, 133.3);
    const double sign = GENERATE(1.0, -1.0);
    CAPTURE(rate, sign);
    constexpr double late_s = 0.0037;
    std::vector<double> x;
    for (int i = 0; i < 720; ++i)
        x.push_back(sign * 800.0 * std::floor((1e-3 * i - late_s) * rate) / rate);
    const auto found = analysis::find_zipper(x, spacing, {});
    REQUIRE(found);
    CHECK(found->first_step.value() >= 0.0);
    CHECK(found->first_step.value() < 1.0 / found->rate.value());
    // A value shows a step up to one spacing late.
    const double turns = (found->first_step.value() - late_s) * rate;
    CHECK_THAT((turns - std::round(turns)) / rate, WithinAbs(0.0, spacing.value()));
}

namespace {

// Steps of which each comes to rest exponentially, every 20.83 ms.
constexpr double rounded_rate = 48.0;

std::vector<double> rounded_way(double constant_s) {
    std::vector<double> x;
    const double period = 1.0 / rounded_rate;
    for (int i = 0; i < 720; ++i) {
        const double since = std::fmod(1e-3 * i, period);
        x.push_back(800.0 * (1e-3 * i - since) - 800.0 * period * std::exp(-since / constant_s) /
                                                     (1.0 - std::exp(-period / constant_s)));
    }
    return synthesis::sum(x, synthesis::noise(x.size(), 0.05, 7));
}

std::vector<double> rippled_way(double rate, double amplitude) {
    std::vector<double> x;
    for (int i = 0; i < 720; ++i)
        x.push_back(0.8 * i + amplitude * std::sin(2.0 * std::numbers::pi * rate * 1e-3 * i));
    return synthesis::sum(x, synthesis::noise(x.size(), 0.05, 7));
}

}  // namespace

TEST_CASE("zipper: rounded steps are as high as they come to be", "[analysis][zipper]") {
    const double constant_s = GENERATE(0.5e-3, 1e-3, 2e-3);
    CAPTURE(constant_s);
    const auto x = rounded_way(constant_s);
    const auto found = analysis::find_zipper(x, spacing, {});
    REQUIRE(found);
    const auto between = analysis::steps_of_plateaus(x, spacing, seconds{0.0}, *found);
    REQUIRE(between);
    const double u = std::hypot(std::hypot(between->u_step, between->u_settling),
                                std::hypot(between->u_timing, between->u_pattern));
    CHECK_THAT(between->step, WithinAbs(800.0 / rounded_rate, 2.0 * u));
    // Of use, too: the line's own reading is up to 14 % low.
    CHECK(u < 0.05 * between->step);
}

TEST_CASE("zipper: steps that never come to rest are refused", "[analysis][zipper]") {
    const auto x = rounded_way(GENERATE(8e-3, 20e-3));
    const auto found = analysis::find_zipper(x, spacing, {});
    REQUIRE(found);
    CHECK(analysis::steps_of_plateaus(x, spacing, seconds{0.0}, *found).error() ==
          analysis::refusal::no_fit);
}

TEST_CASE("zipper: a ripple is no stair", "[analysis][zipper]") {
    const double rate = GENERATE(23.3, 48.0, 83.1);
    const double amplitude = GENERATE(1.0, 10.0);
    CAPTURE(rate, amplitude);
    const auto x = rippled_way(rate, amplitude);
    const auto found = analysis::find_zipper(x, spacing, {});
    REQUIRE(found);
    CHECK(found->stands_out);
    CHECK(analysis::steps_of_plateaus(x, spacing, seconds{0.0}, *found).error() ==
          analysis::refusal::no_fit);
}

TEST_CASE("zipper: a second line is told as a rival, but none of the steps' own",
          "[analysis][zipper]") {
    auto x = course(50.0, 0.01, 3);
    // What the course's polynomial leaves of a bend is below a hundredth.
    CHECK(zipper_of(x).rival_share < 0.01);
    for (std::size_t i = 0; i < x.size(); ++i)
        x[i] += 2.0 * std::sin(2.0 * std::numbers::pi * 0.073 * static_cast<double>(i));
    // Against a first line of 16 / pi.
    CHECK_THAT(zipper_of(x).rival_share, WithinRel(2.0 * std::numbers::pi / 16.0, 0.05));
}

TEST_CASE("zipper: rates of which the windows leave nothing are refused", "[analysis][zipper]") {
    const auto x = course(50.0, 0.01, 3);
    // At 2 periods in the window a line is gone, beyond its sign turns.
    CHECK(analysis::find_zipper(x, spacing, {.window = seconds{7e-3}}).error() ==
          analysis::refusal::bad_argument);
    CHECK(analysis::find_zipper(x, spacing, {.flat_window = seconds{3e-3}}).error() ==
          analysis::refusal::bad_argument);
    const auto near = analysis::find_zipper(x, spacing, {.window = seconds{5e-3}});
    REQUIRE(near);
    CHECK(near->step > 0.0);
}

TEST_CASE("zipper: plateaus that are too short are refused", "[analysis][zipper]") {
    const auto x = course(187.3, 0.01, 3);
    const auto found = zipper_of(x);
    CHECK(analysis::steps_of_plateaus(x, spacing, seconds{4e-3}, found).error() ==
          analysis::refusal::too_short);
    CHECK(analysis::steps_of_plateaus(x, seconds{0.0}, seconds{1e-3}, found).error() ==
          analysis::refusal::bad_argument);
}

TEST_CASE("zipper: what cannot be read is refused", "[analysis][zipper]") {
    CHECK(analysis::find_zipper(std::vector<double>(40, 1.0), spacing, {}).error() ==
          analysis::refusal::too_short);
    CHECK(analysis::find_zipper(std::vector<double>(700, 1.0), spacing, {.highest = hertz{600.0}})
              .error() == analysis::refusal::bad_argument);
    std::vector<double> bad(700, 1.0);
    bad[9] = INFINITY;
    CHECK(analysis::find_zipper(bad, spacing, {}).error() == analysis::refusal::not_finite);
}

namespace {

// Two poles' worth of dark: harmonic k is (k pitch / cutoff)^2 down and more.
double level_behind(double cutoff_hz, double hz) {
    return 1.0 / (1.0 + std::pow(hz / cutoff_hz, 2));
}

double brightness_cents(double pitch_hz, double cutoff_hz) {
    double power = 0.0, moment = 0.0;
    for (int k = 1; k <= 12; ++k) {
        const double level = level_behind(cutoff_hz, k * pitch_hz) / k;
        power += level * level;
        moment += k * k * level * level;
    }
    return 600.0 * std::log2(moment / power);
}

// A note whose cutoff rises by two octaves in 0.75 s, looked at every so often.
std::vector<double> darkened_note(double rate, double pitch_hz, double every_s, double noise) {
    std::vector<double> x(static_cast<std::size_t>(0.8 * rate));
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double t = static_cast<double>(i) / rate;
        const double looked = every_s > 0.0 ? std::floor(t / every_s) * every_s : 0.0;
        const double cutoff = 800.0 * std::exp2(2.0 * looked / 0.75);
        for (int k = 1; k <= 12; ++k)
            x[i] += level_behind(cutoff, k * pitch_hz) / k *
                    std::sin(2.0 * std::numbers::pi * k * pitch_hz * t);
    }
    return synthesis::sum(x, synthesis::noise(x.size(), noise, 5));
}

analysis::control_course course_of(const std::vector<double>& x, double rate, double pitch_hz,
                                   double noise) {
    const auto found =
        analysis::follow_control(x, sample_rate{rate}, analysis::constant_pitch(hertz{pitch_hz}),
                                 seconds{0.02}, seconds{0.77}, volts{noise});
    REQUIRE(found);
    return *found;
}

}  // namespace

TEST_CASE("control course: a steady note is as bright as its harmonics make it, in noise too",
          "[analysis][zipper]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0);
    const double noise = GENERATE(0.0, 3e-3);
    CAPTURE(rate, noise);
    const auto found = course_of(darkened_note(rate, 523.25, 0.0, noise), rate, 523.25, noise);
    double sum = 0.0;
    for (const double cents : found.brightness_cents)
        sum += cents / static_cast<double>(found.brightness_cents.size());
    // Noise alone would make it 1.4 cents brighter.
    CHECK_THAT(sum, WithinAbs(brightness_cents(523.25, 800.0), noise > 0.0 ? 0.3 : 0.01));
}

TEST_CASE(
    "control course: steps that fall evenly into the tone's periods are read as high as others",
    "[analysis][zipper]") {
    constexpr double rate = 48000.0, pitch_hz = 523.25;
    // Every 10.5 periods each second step meets the tone alike.
    const double every_s = GENERATE(10.0, 10.5, 10.37) / pitch_hz;
    CAPTURE(every_s * pitch_hz);
    const auto found =
        course_of(darkened_note(rate, pitch_hz, every_s, 1e-5), rate, pitch_hz, 1e-5);
    const auto steps =
        analysis::find_zipper(found.brightness_cents, found.spacing, {.window = found.window});
    REQUIRE(steps);
    CHECK(steps->stands_out);
    const auto between =
        analysis::steps_of_plateaus(found.brightness_cents, found.spacing, found.window, *steps);
    REQUIRE(between);
    // Each step with the weight of a Hann window over the course at its time.
    double sum = 0.0, weights = 0.0;
    for (double t = every_s; t < 0.75; t += every_s) {
        const double turns = (t - 0.0195) / 0.75;
        const double weight = 1.0 - std::cos(2.0 * std::numbers::pi * turns);
        const auto at = [&](double s) {
            return brightness_cents(pitch_hz, 800.0 * std::exp2(2.0 * s / 0.75));
        };
        sum += weight * (at(t) - at(t - every_s));
        weights += weight;
    }
    CHECK_THAT(between->step, WithinRel(sum / weights, 0.001));
}

TEST_CASE("control course: a pitch that moves in steps is followed through a tone",
          "[analysis][zipper]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0);
    CAPTURE(rate);
    // 523.25 Hz rising by 600 cents in 0.75 s, looked at every 10 ms: steps of 8 cents.
    const auto samples = static_cast<std::size_t>(0.8 * rate);
    std::vector<double> x(samples);
    double phase = 0.0;
    for (std::size_t i = 0; i < samples; ++i) {
        const double t = std::floor(static_cast<double>(i) / rate / 0.01) * 0.01;
        phase += 523.25 * std::exp2(800.0 * t / 1200.0) / rate;
        for (int k = 1; k <= 10; ++k) x[i] += std::sin(2.0 * std::numbers::pi * k * phase) / k;
    }
    x = synthesis::sum(x, synthesis::noise(samples, 1e-4, 9));
    analysis::pitch_line line{seconds{0.0}, seconds{5e-3}, {}};
    for (int i = 0; i <= 160; ++i)
        line.pitch_hz.push_back(523.25 * std::exp2(800.0 * 5e-3 * i / 1200.0));
    const auto found = analysis::follow_control(x, sample_rate{rate}, line, seconds{0.02},
                                                seconds{0.77}, volts{1e-4});
    REQUIRE(found);
    const auto steps = analysis::find_zipper(
        found->pitch_cents, found->spacing,
        {.highest = hertz{250.0}, .window = found->window, .flat_window = found->spacing});
    REQUIRE(steps);
    CHECK(steps->stands_out);
    CHECK_THAT(steps->step, WithinRel(8.0, 0.03));
    CHECK_THAT(steps->rate.value(), WithinAbs(100.0, 0.2));
}
