#include "analysis/transients.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include "analysis/transients_scale.hpp"
#include "tests/analysis/synthesis.hpp"

using namespace cvrig;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

constexpr double noise_v = 1e-4;

// A saw of 5 V peak with harmonics that fade out up to 0.45 of the rate, so that its edges do not
// ring.
std::vector<double> saw(double pitch_hz, double rate_hz, std::size_t samples) {
    const auto harmonics = static_cast<std::size_t>(0.45 * rate_hz / pitch_hz);
    auto partials = synthesis::scaled_partials(synthesis::sawtooth(harmonics), 5.0);
    for (std::size_t k = 0; k < harmonics; ++k) {
        const double share = static_cast<double>(k + 1) / static_cast<double>(harmonics);
        partials[k].peak_volts *= 0.5 + 0.5 * std::cos(3.14159265358979 * share);
    }
    return synthesis::sum(synthesis::additive(partials, pitch_hz, rate_hz, samples),
                          synthesis::noise(samples, noise_v, 7));
}

void add_step(std::vector<double>& x, std::size_t at, double volts) {
    for (std::size_t i = at; i < x.size(); ++i) x[i] += volts;
}

analysis::click_reading clicks_of(const std::vector<double>& x, double rate_hz,
                                  double highest_hz = 300.0) {
    const auto found =
        analysis::find_clicks(x, sample_rate{rate_hz}, {.highest_pitch = hertz{highest_hz}});
    REQUIRE(found);
    return *found;
}

}  // namespace

TEST_CASE("abruptness: a step reads its height, at every width and rate",
          "[analysis][transients]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    const double width_us = GENERATE(30.0, 60.0);
    CAPTURE(rate, width_us);
    const analysis::abruptness_filter filter{seconds{width_us * 1e-6}, sample_rate{rate}};
    std::vector<double> x(2000);
    add_step(x, 1000, 1.0);
    double most = 0.0;
    for (std::size_t i = 950; i < 1050; ++i)
        most = std::max(most, std::sqrt(filter.at(x, i).square()));
    // The middle of the step lies between two samples, so a sample misses the top by up to 4 %.
    CHECK_THAT(most, WithinAbs(1.0, 0.05));
    // A cubic has no fourth derivative: the sampled Gaussian leaves less than 1e-6 of it.
    for (std::size_t i = 0; i < x.size(); ++i)
        x[i] = 1.0 + 1e-2 * static_cast<double>(i) - 1e-6 * std::pow(static_cast<double>(i), 3);
    CHECK(std::sqrt(filter.at(x, 1000).square()) < 2e-2);
}

TEST_CASE("abruptness: grows by 2 for a corner, 1 for a step, 1/2 for one odd sample",
          "[analysis][transients]") {
    // Mallat and Hwang 1992: maxima go with the scale to the power of the Lipschitz exponent, which
    // is 1, 0 and -1. The sampling of the narrow Gaussian leaves 5 %.
    const auto growth = [](const std::vector<double>& x) {
        const sample_rate rate{96000.0};
        double most[2] = {0.0, 0.0};
        const double widths[2] = {30e-6, 60e-6};
        for (std::size_t w = 0; w < 2; ++w) {
            const analysis::abruptness_filter filter{seconds{widths[w]}, rate};
            for (std::size_t i = 900; i < 1100; ++i)
                most[w] = std::max(most[w], std::sqrt(filter.at(x, i).square()));
        }
        return most[1] / most[0];
    };
    std::vector<double> corner(2000), step(2000), odd(2000);
    for (std::size_t i = 1000; i < 2000; ++i) corner[i] = 1e-3 * static_cast<double>(i - 1000);
    add_step(step, 1000, 1.0);
    odd[1000] = 1.0;
    CHECK_THAT(growth(corner), WithinRel(2.0, 0.05));
    CHECK_THAT(growth(step), WithinRel(1.0, 0.05));
    CHECK_THAT(growth(odd), WithinRel(0.5, 0.05));
}

TEST_CASE("clicks: the edges of a wave are none, whatever its pitch and the rate",
          "[analysis][transients]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0);
    const double pitch = GENERATE(65.4, 131.3, 261.0, 523.25);
    CAPTURE(rate, pitch);
    const auto x = saw(pitch, rate, static_cast<std::size_t>(0.2 * rate));
    CHECK(clicks_of(x, rate, 1.1 * pitch).clicks.empty());
}

TEST_CASE("clicks: a straight attack of 1 ms or more is none", "[analysis][transients]") {
    const double attack_s = GENERATE(0.001, 0.003, 0.010);
    CAPTURE(attack_s);
    const double rate = 48000.0;
    auto x = saw(110.0, rate, 14400);
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double t = static_cast<double>(i) / rate - 0.05;
        const double gain = t < 0.0 ? 0.0 : std::min(1.0, t / attack_s);
        x[i] = gain * x[i] + (gain < 1.0 ? 1e-4 * std::sin(static_cast<double>(i * i)) : 0.0);
    }
    CHECK(clicks_of(x, rate).clicks.empty());
}

TEST_CASE("clicks: where a second attack ends, in what its first loud edge rings, is none",
          "[analysis][transients]") {
    // Edges that ring, a level that rises in a straight line to ten times what it was and stops
    // soon behind an edge: at 48 kHz the module of common practice, whose attack takes 2.4 ms.
    const double rate = 48000.0, pitch = 131.0;
    const auto samples = static_cast<std::size_t>(0.4 * rate);
    const double period = rate / pitch;
    const auto ring = synthesis::scaled_partials(
        synthesis::sawtooth(static_cast<std::size_t>(0.4 * rate / pitch)), 5.0);
    for (int behind = 8; behind <= 40; ++behind) {
        auto x = synthesis::additive(ring, pitch, rate, samples);
        const double end = std::ceil(20.0 * period) + behind;
        for (std::size_t i = 0; i < samples; ++i) {
            const double risen = (static_cast<double>(i) - end) / 115.0 + 1.0;
            x[i] *= 0.1 + 0.9 * std::clamp(risen, 0.0, 1.0);
        }
        const auto noisy = synthesis::sum(x, synthesis::noise(samples, noise_v, 7));
        CAPTURE(behind);
        CHECK(clicks_of(noisy, rate).clicks.empty());
    }
}

TEST_CASE("clicks: a step in a note is found where it is, as high as it is",
          "[analysis][transients]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    const double height = GENERATE(0.02, 0.1, 1.0, -0.5);
    // Parts of a period clear of the edge, which is at 0.
    const double phase = GENERATE(0.2, 0.45, 0.8);
    CAPTURE(rate, height, phase);
    const double pitch = 131.3;
    auto x = saw(pitch, rate, static_cast<std::size_t>(0.2 * rate));
    const auto at = static_cast<std::size_t>((14.0 + phase) * rate / pitch);
    add_step(x, at, height);
    const auto found = clicks_of(x, rate);
    REQUIRE(found.clicks.size() == 1);
    const auto& c = found.clicks.front();
    CHECK_THAT(c.at_samples, WithinAbs(static_cast<double>(at) - 0.5, 1.0));
    // Stated in the header: within 4 %, and noise.
    CHECK_THAT(c.size.value(), WithinAbs(std::abs(height), 0.05 * std::abs(height) + 1e-3));
    CHECK_THAT(c.size.value(), WithinAbs(std::abs(height), 3.0 * c.u_size.value()));
}

namespace {

// Four harmonics of a saw: no edges, but what there is of them at a wider scale.
std::vector<double> smooth_wave(double pitch_hz, double rate_hz, std::size_t samples, double phase,
                                double noise, unsigned long long seed) {
    const auto partials = synthesis::scaled_partials(synthesis::sawtooth(4), 3.0);
    return synthesis::sum(
        synthesis::additive(partials, pitch_hz, rate_hz, samples, phase * rate_hz / pitch_hz),
        synthesis::noise(samples, noise, seed));
}

}  // namespace

TEST_CASE("clicks: the smooth wave around a small step does not make a corner of it",
          "[analysis][transients]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0);
    CAPTURE(rate);
    // 20 deviations of the abruptness' noise at 48 kHz, anywhere in the period.
    for (int i = 0; i < 40; ++i) {
        const auto samples = static_cast<std::size_t>(0.3 * rate);
        auto x = smooth_wave(261.6, rate, samples, i / 40.0, 1e-3,
                             static_cast<unsigned long long>(i + 1));
        CHECK(clicks_of(x, rate, 523.0).clicks.empty());
        const auto at = static_cast<std::size_t>(0.2 * rate);
        add_step(x, at, 0.04);
        const auto found = clicks_of(x, rate, 523.0);
        REQUIRE(found.clicks.size() == 1);
        CHECK_THAT(found.clicks.front().at_samples, WithinAbs(static_cast<double>(at) - 0.5, 3.0));
    }
}

TEST_CASE("clicks: a few that come at even distances do not make a wave",
          "[analysis][transients]") {
    auto x = smooth_wave(130.8, 48000.0, 28800, 0.3, 1e-4, 5);
    for (const std::size_t at : {6000UL, 11000UL, 16100UL, 21000UL}) add_step(x, at, 0.1);
    CHECK(clicks_of(x, 48000.0).clicks.size() == 4);
}

TEST_CASE("clicks: single odd samples are found one by one", "[analysis][transients]") {
    auto x = saw(131.3, 48000.0, 14400);
    const std::vector<std::size_t> at{2111, 5003, 5151, 9001};
    for (const auto i : at) x[i] += 0.05;
    const auto found = clicks_of(x, 48000.0);
    REQUIRE(found.clicks.size() == at.size());
    for (std::size_t i = 0; i < at.size(); ++i) {
        CHECK_THAT(found.clicks[i].at_samples, WithinAbs(static_cast<double>(at[i]), 1.0));
        CHECK(found.clicks[i].growth < 0.7);
    }
}

TEST_CASE("clicks: noise alone has one no more often than is stated", "[analysis][transients]") {
    // Largest of N Rayleigh values (Gumbel 1958, 1.2): at a chance of 0.05 a record, 200 records
    // should hold 10; 20 or more come with a probability of 0.3 % (binomial). The threshold counts
    // every 30 us as independent, and growth must be told from a corner's, so fewer is right.
    int alarms = 0;
    for (unsigned long long seed = 1; seed <= 200; ++seed) {
        const auto x = synthesis::noise(2400, 1e-3, seed);
        const auto found = analysis::find_clicks(x, sample_rate{48000.0}, {.false_alarms = 0.05});
        REQUIRE(found);
        alarms += found->clicks.empty() ? 0 : 1;
    }
    CHECK(alarms < 20);
}

TEST_CASE("clicks: what cannot be read is refused", "[analysis][transients]") {
    const std::vector<double> x(4800, 0.1);
    CHECK(analysis::find_clicks(std::span{x}.first(100), sample_rate{48000.0}).error() ==
          analysis::refusal::too_short);
    CHECK(analysis::find_clicks(x, sample_rate{8000.0}).error() == analysis::refusal::bad_argument);
    auto bad = x;
    bad[77] = NAN;
    CHECK(analysis::find_clicks(bad, sample_rate{48000.0}).error() ==
          analysis::refusal::not_finite);
    // Nothing at all has no clicks, and no noise in which one could hide.
    CHECK(clicks_of(x, 48000.0).clicks.empty());
}

namespace {

std::vector<double> made_by_sox(const std::string& effects, const std::filesystem::path& file) {
    const std::string command = "sox -R -D -n -r 48000 -c 1 -b 64 -e floating-point -t raw " +
                                file.string() + " " + effects;
    REQUIRE(std::system(command.c_str()) == 0);
    std::vector<double> x(std::filesystem::file_size(file) / sizeof(double));
    std::ifstream in{file, std::ios::binary};
    in.read(reinterpret_cast<char*>(x.data()),
            static_cast<std::streamsize>(x.size() * sizeof(double)));
    return x;
}

}  // namespace

TEST_CASE("clicks: those that SoX cuts into its own tones are found at their sample",
          "[analysis][transients][outside]") {
    // SoX 14.4.2: a piece is cut out of a saw by "trim", which leaves a click there; a fade in of
    // 3 ms is none. SoX's saw has an edge of one sample in every period.
    const auto folder =
        std::filesystem::temp_directory_path() / ("cvrig_clicks_" + std::to_string(std::rand()));
    std::filesystem::create_directories(folder);
    const auto whole = made_by_sox("synth 0.5 sawtooth 131.3 vol 0.5 fade t 0.003 0.5 0.003",
                                   folder / "whole.f64");
    CHECK(clicks_of(whole, 48000.0).clicks.empty());

    // 9000 samples of it, then from 9150 on: 150 of 365.6 samples of a period are missing.
    const auto cut =
        made_by_sox("synth 0.5 sine 131.3 vol 0.5 trim 0 9000s 150s", folder / "cut.f64");
    REQUIRE(cut.size() > 9100);
    const auto found = clicks_of(cut, 48000.0);
    const double jump = std::abs(cut[9000] - cut[8999]);
    REQUIRE(jump > 0.01);
    // SoX's trim takes positions in turn: keep up to 9000, drop 150, keep the rest.
    REQUIRE(found.clicks.size() == 1);
    CHECK_THAT(found.clicks.front().at_samples, WithinAbs(8999.5, 1.0));
    CHECK_THAT(found.clicks.front().size.value(), WithinRel(jump, 0.06));
    std::filesystem::remove_all(folder);
}
