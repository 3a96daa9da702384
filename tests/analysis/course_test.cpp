#include "analysis/course.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <random>
#include <vector>

using namespace cvrig;
using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;

namespace {

struct glide_sound {
    std::vector<double> volts;
    std::vector<hertz> course;
};

// A saw of twelve harmonics that glides from 160 Hz to 260 Hz, `off_cents` above that course, from
// `phase_cycles`.
glide_sound gliding(double off_cents, double phase_cycles) {
    glide_sound out;
    const double rate = 48000.0;
    double phase = phase_cycles;
    for (int i = 0; i < 2400; ++i) {
        const double t = i / rate;
        const hertz f{260.0 * std::pow(160.0 / 260.0, std::exp(-t / 0.022))};
        double sum = 0.0;
        for (int k = 1; k <= 12; ++k) sum += std::sin(2.0 * std::numbers::pi * k * phase) / k;
        out.volts.push_back(sum);
        out.course.push_back(f);
        phase += f.value() / rate * std::exp2(off_cents / 1200.0);
    }
    return out;
}

}  // namespace

TEST_CASE("a tone on its course reads within a few cents, and differences much better",
          "[analysis][course]") {
    for (const double phase : {0.0, 0.3, 0.7}) {
        const auto on = gliding(0.0, phase);
        const auto off = gliding(30.0, phase);
        const auto a = measure_offset(on.volts, on.course, sample_rate{48000.0});
        const auto b = measure_offset(off.volts, off.course, sample_rate{48000.0});
        REQUIRE(a);
        REQUIRE(b);
        // Leakage of the second harmonic into windows of some 6 periods: a few cents, and less of
        // the difference.
        CHECK_THAT(a->offset.value(), WithinAbs(0.0, 6.0));
        CHECK_THAT((b->offset - a->offset).value(), WithinAbs(30.0, 3.0));
    }
}

TEST_CASE("the scatter that noise gives a tone's offset is what its uncertainty says",
          "[analysis][course]") {
    const double rate = 48000.0, noise_v = 4e-4;
    std::mt19937 random{20};
    std::normal_distribution<double> noise{0.0, noise_v};
    const std::vector<hertz> course(3840, hertz{370.0});
    double squares = 0.0, stated = 0.0;
    constexpr int trials = 400;
    for (int trial = 0; trial < trials; ++trial) {
        std::vector<double> sound;
        for (std::size_t i = 0; i < course.size(); ++i)
            sound.push_back(
                std::sin(2.0 * std::numbers::pi * 370.0 * static_cast<double>(i) / rate) +
                noise(random));
        const auto r = measure_offset(sound, course, sample_rate{rate}, cvrig::volts{noise_v});
        REQUIRE(r);
        squares += std::pow(r->offset.value(), 2.0);
        stated += std::pow(r->u_offset.value(), 2.0);
    }
    // A standard deviation from 400 trials scatters by 3.5 %; four of these.
    CHECK_THAT(std::sqrt(squares / stated), WithinAbs(1.0, 0.14));
}

TEST_CASE("what is no course or no sound is refused by name", "[analysis][course]") {
    auto sound = gliding(0.0, 0.0);
    const sample_rate rate{48000.0};
    CHECK(measure_offset(std::span{sound.volts}.first(100), sound.course, rate).error() ==
          refusal::bad_argument);
    CHECK(
        measure_offset(std::span{sound.volts}.first(500), std::span{sound.course}.first(500), rate)
            .error() == refusal::too_short);
    CHECK(measure_offset(sound.volts, sound.course, rate, cvrig::volts{-1.0}).error() ==
          refusal::bad_argument);
    CHECK(measure_offset(std::vector<double>(2400, 1.0), sound.course, rate).error() ==
          refusal::silent);
    sound.volts[7] = std::nan("");
    CHECK(measure_offset(sound.volts, sound.course, rate).error() == refusal::not_finite);
}
