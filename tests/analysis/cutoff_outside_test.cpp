// Cutoffs of filters that another program applied: SoX, whose `lowpass -2` is the biquad of Robert
// Bristow-Johnson's "Cookbook formulae for audio EQ biquad filter coefficients", made by the bilinear
// transform so that its gain at the named frequency is exactly Q, and whose `lowpass -1` is one pole.
#include <catch2/catch.hpp>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include "analysis/cutoff.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinRel;

namespace {

constexpr hertz pitch{60.0};  // divides each rate, so that what aliases falls on harmonics

/// A sawtooth of SoX's own, through effects of SoX's own; raw doubles.
std::vector<double> sox(int rate, const std::string& effects) {
    static int number = 0;
    const auto file = std::filesystem::temp_directory_path() /
                      ("cvrig-cutoff-" + std::to_string(std::random_device{}()) + "-" +
                       std::to_string(++number) + ".raw");
    const auto command = "sox -D -V1 -n -r " + std::to_string(rate) + " -c 1 -e float -b 64 '" +
                         file.string() + "' synth 0.3 sawtooth 60 gain -20 " + effects;
    if (std::system(command.c_str()) != 0) return {};
    std::vector<double> out(std::filesystem::file_size(file) / sizeof(double));
    std::ifstream in{file, std::ios::binary};
    in.read(reinterpret_cast<char*>(out.data()),
            static_cast<std::streamsize>(out.size() * sizeof(double)));
    in.close();
    std::filesystem::remove(file);
    return out;
}

std::vector<harmonic_level> levels_of(const std::vector<double>& sound, int rate) {
    const auto numbers = harmonics_up_to(14_kHz, pitch);
    // SoX computes with 32-bit samples: 2^-31 is far below anything here.
    const auto late = std::span{sound}.last(sound.size() / 2);
    const auto levels =
        windowed_levels(late, sample_rate{static_cast<double>(rate)}, pitch, numbers, volts{1e-9});
    REQUIRE(levels);
    return *levels;
}

cutoff_reading read(int rate, const std::string& effects) {
    const auto plain = sox(rate, "");
    const auto filtered = sox(rate, effects);
    INFO("sox of package sox must be there");
    REQUIRE(plain.size() > 1000);
    REQUIRE(filtered.size() == plain.size());
    std::vector<double> source;
    for (const auto& level : levels_of(plain, rate)) source.push_back(level.peak.value());
    const auto heard = levels_of(filtered, rate);
    const auto found =
        measure_cutoff(heard, source, {.pitch = pitch, .relative_u_source = 0.002, .gain = {}});
    REQUIRE(found);
    return *found;
}

/// Frequency at which the analogue prototype's `ratio` times the named one lies after the bilinear
/// transform.
double warped(double named_hz, double ratio, double rate) {
    const double pi = std::numbers::pi;
    return rate / pi * std::atan(ratio * std::tan(pi * named_hz / rate));
}

}  // namespace

TEST_CASE("cutoff: a Butterworth biquad of SoX reads the frequency that SoX was asked for",
          "[analysis][cutoff][outside]") {
    const int rate = GENERATE(48000, 96000);
    const int named = GENERATE(150, 1000, 5000);
    CAPTURE(rate, named);
    // 0.7071 q is Butterworth's Q to four places: half power at the named frequency.
    const auto found = read(rate, "lowpass -2 " + std::to_string(named) + " 0.70710678q");
    CHECK_THAT(found.cutoff.value(), WithinRel(static_cast<double>(named), 0.005));
    CHECK(found.misfit_ratio < 3.0);
}

TEST_CASE("cutoff: four equal poles of SoX read 0.434979 of the frequency that SoX was asked for",
          "[analysis][cutoff][outside]") {
    const int named = GENERATE(300, 2000);
    CAPTURE(named);
    // A biquad of Q 0.5 is two equal poles; sqrt(2^(1/4) - 1) = 0.434979 for four (The Circuits and
    // Filters Handbook, from memory), before the bilinear transform.
    const std::string one = "lowpass -2 " + std::to_string(named) + " 0.5q ";
    const auto found = read(48000, one + one);
    CHECK_THAT(found.cutoff.value(), WithinRel(warped(named, 0.434979, 48000.0), 0.005));
}

TEST_CASE("cutoff: a resonant biquad of SoX reads the last crossing of its published response",
          "[analysis][cutoff][outside]") {
    // |H|^2 = 1 / ((1 - r^2)^2 + r^2 / Q^2) = 1/2 with Q = 4: r^2 = b + sqrt(b^2 + 1),
    // b = 1 - 1 / (2 Q^2).
    const double b = 1.0 - 1.0 / 32.0;
    const double ratio = std::sqrt(b + std::sqrt(b * b + 1.0));
    const auto found = read(48000, "lowpass -2 800 4q");
    CHECK_THAT(found.cutoff.value(), WithinRel(warped(800.0, ratio, 48000.0), 0.005));
}
