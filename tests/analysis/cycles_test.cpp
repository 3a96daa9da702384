#include "analysis/cycles.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <vector>

#include "synthesis.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;

namespace {

constexpr sample_rate rate{48000.0};

std::vector<double> sine(double hz, double volts_peak, double length_s) {
    std::vector<double> x(static_cast<std::size_t>(length_s * rate.value()));
    for (std::size_t i = 0; i < x.size(); ++i) {
        x[i] = volts_peak *
               std::sin(2 * std::numbers::pi * hz * static_cast<double>(i) / rate.value());
    }
    return x;
}

/// A sine whose pitch moves by octaves as exp(-t / tau), its phase from the closed integral by fine
/// steps.
std::vector<double> gliding_sine(const pitch_line& line, double length_s) {
    std::vector<double> x(static_cast<std::size_t>(length_s * rate.value()));
    double cycles = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        x[i] = std::sin(2 * std::numbers::pi * cycles);
        const seconds middle{(static_cast<double>(i) + 0.5) / rate.value()};
        cycles += pitch_at(line, middle).value() / rate.value();
    }
    return x;
}

}  // namespace

TEST_CASE("cycles: the pitch of a held note is read to a hundredth of a cent",
          "[analysis][cycles]") {
    const double hz = GENERATE(41.3, 110.0, 443.21, 1760.5);
    const double guess = GENERATE(0.985, 1.0, 1.012);
    CAPTURE(hz, guess);
    const auto pitch = held_pitch(sine(hz, 0.5, 0.5), rate, hertz{hz * guess}, 0_s, 0.5_s);
    REQUIRE(pitch);
    // 0.01 cent: the bound that the header states.
    CHECK_THAT(interval(*pitch, hertz{hz}).value(), Catch::Matchers::WithinAbs(0.0, 0.01));
}

TEST_CASE("cycles: the amplitude of a harmonic is exact once the resampler's response is taken out",
          "[analysis][cycles]") {
    const double hz = GENERATE(55.0, 130.8, 987.0);
    const auto plan = plan_cycles({hertz{hz}, hertz{hz}, 12_ms, 2.0, 20_kHz}, rate);
    const auto response = line_response(plan, hertz{hz}, rate);
    for (std::size_t k = 1; k <= plan.harmonics; k += 1 + k / 4) {
        const auto x = sine(hz * static_cast<double>(k), 2.0, 0.3);
        const std::vector<double> at_s{0.15};
        const auto frames = harmonics_at(x, rate, constant_pitch(hertz{hz}), plan, at_s);
        CAPTURE(hz, k);
        // 0.1 %: images of the cubic convolution, largest near half the sample rate.
        const double relative = static_cast<double>(k) * hz < 15000.0 ? 0.001 : 0.02;
        CHECK_THAT(std::abs(frames.frame(0)[k - 1]) / response[k - 1],
                   Catch::Matchers::WithinAbs(2.0, 2.0 * relative));
    }
}

TEST_CASE("cycles: during a glide a harmonic keeps its line", "[analysis][cycles]") {
    pitch_line line{0.1_s, 1_ms, {}};
    for (int i = 0; i < 300; ++i) line.pitch_hz.push_back(220.0 * std::exp2(-std::exp(-i / 22.0)));
    const auto x = gliding_sine(line, 0.4);
    const auto plan = plan_cycles({110_Hz, 220_Hz, 12_ms, 1.0, 10_kHz}, rate);
    for (const double at : {0.05, 0.1, 0.11, 0.12, 0.15, 0.3}) {
        const std::vector<double> at_s{at};
        const auto frame = harmonics_at(x, rate, line, plan, at_s);
        CAPTURE(at);
        // 0.2 %: the mean over a point loses that much of a fundamental with 128 points.
        CHECK_THAT(std::abs(frame.frame(0)[0]), Catch::Matchers::WithinAbs(1.0, 0.002));
        CHECK(std::abs(frame.frame(0)[1]) < 0.003);
    }
}

TEST_CASE("cycles: pitch is refused where there is none", "[analysis][cycles]") {
    CHECK(held_pitch(std::vector<double>(24000, 0.0), rate, 110_Hz, 0_s, 0.5_s).error() ==
          refusal::silent);
    CHECK(held_pitch(sine(110.0, 1.0, 0.02), rate, 110_Hz, 0_s, 0.02_s).error() ==
          refusal::too_short);
    CHECK(held_pitch(sine(118.0, 1.0, 0.5), rate, 110_Hz, 0_s, 0.5_s).error() == refusal::no_pitch);
}

TEST_CASE("cycles: white noise puts sqrt(6 / N) of its deviation into a line",
          "[analysis][cycles]") {
    // Parseval's theorem for a Hann window, whose mean square is 3/8 (standard mathematics).
    const hertz pitch{100.0};
    const auto x = synthesis::noise(480000, 0.01, 11);
    const auto plan = plan_cycles({pitch, pitch, seconds{0.02}, 2.0, hertz{2000.0}}, rate);
    std::vector<double> at_s;
    for (double t = 0.05; t < 9.9; t += 0.02) at_s.push_back(t);
    const auto frames = harmonics_at(x, rate, constant_pitch(pitch), plan, at_s);
    double squares = 0.0;
    for (std::size_t i = 0; i < frames.size(); ++i)
        for (std::size_t k = 0; k < 10; ++k) squares += std::norm(frames.frame(i)[k]);
    const double rms = std::sqrt(squares / (10.0 * static_cast<double>(frames.size())));
    // Some 5000 numbers, of which neighbours share a little: scatter below 2 %; three times that.
    CHECK_THAT(rms / (0.01 * line_noise(plan, pitch, rate)), Catch::Matchers::WithinAbs(1.0, 0.06));
}
