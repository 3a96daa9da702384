#include "analysis/spectrum.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <numeric>

#include "analysis/fourier.hpp"
#include "synthesis.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

namespace {

constexpr sample_rate rate{48000};

double largest(const std::vector<double>& v) {
    return *std::max_element(v.begin(), v.end());
}

/// Highest side lobe of a window in dB: peak outside the main lobe of the zero-padded transform.
double highest_side_lobe_db(window_kind kind) {
    const std::size_t n = 1024, padding = 16;
    auto w = make_window(kind, n);
    w.resize(n * padding, 0.0);
    const auto bins = real_transform(w);
    // The main lobe of a window of m coefficients ends m bins from its centre.
    const auto from = static_cast<std::ptrdiff_t>(cosine_coefficients(kind).size() * padding);
    double side = 0;
    for (auto it = bins.begin() + from; it != bins.end(); ++it)
        side = std::max(side, std::abs(*it));
    return 20 * std::log10(side / std::abs(bins[0]));
}

}  // namespace

TEST_CASE("spectrum: a sine on a bin reads its peak or rms under every window",
          "[analysis][spectrum]") {
    const auto tone = synthesis::additive({{5.0, 0.7}}, 1000, rate.value(), 48000);
    for (const auto window : {window_kind::rectangular, window_kind::hann, window_kind::hft95}) {
        CAPTURE(name_of(window));
        const auto peak = amplitude_spectrum(tone, rate, window).value();
        CHECK(peak.samples_used == 48000);
        CHECK_THAT(peak.bin_width.value(), WithinAbs(1.0, 1e-12));
        CHECK_THAT(peak.frequency_of(1000).value(), WithinAbs(1000.0, 1e-9));
        CHECK_THAT(peak.volts[1000], WithinAbs(5.0, 1e-11));
        const auto rms = amplitude_spectrum(tone, rate, window, amplitude_scale::rms).value();
        CHECK_THAT(rms.volts[1000], WithinAbs(3.535533906, 1e-9));
        CHECK_THAT(rms.volts[20000], WithinAbs(0.0, 5e-12));
    }
}

TEST_CASE("spectrum: a sawtooth has the lines of its Fourier series", "[analysis][spectrum]") {
    // Standard mathematics: peak 2 / (pi k): 0.636619772, 0.318309886, 0.212206591, 0.159154943.
    const auto saw = synthesis::additive(synthesis::sawtooth(100), 100, rate.value(), 9600);
    const auto lines = amplitude_spectrum(saw, rate, window_kind::blackman_harris).value();
    CHECK_THAT(lines.volts[20], WithinAbs(0.636619772, 5e-10));
    CHECK_THAT(lines.volts[40], WithinAbs(0.318309886, 5e-10));
    CHECK_THAT(lines.volts[60], WithinAbs(0.212206591, 5e-10));
    CHECK_THAT(lines.volts[80], WithinAbs(0.159154943, 5e-10));
}

TEST_CASE("spectrum: between bins a line reads low by the scalloping loss at most",
          "[analysis][spectrum]") {
    // Heinzel et al. 2002: Hann -1.4236 dB, HFT95 within 0.0044 dB.
    const auto tone = synthesis::additive({{1.0, 0.3}}, 1000.5, rate.value(), 48000);
    const auto hann = amplitude_spectrum(tone, rate, window_kind::hann).value();
    CHECK_THAT(20 * std::log10(largest(hann.volts)), WithinAbs(-1.4236, 1e-3));
    const auto flat = amplitude_spectrum(tone, rate, window_kind::hft95).value();
    CHECK_THAT(20 * std::log10(largest(flat.volts)), WithinAbs(0.0, 0.0045));
}

TEST_CASE("spectrum: side lobes are as low as published", "[analysis][spectrum]") {
    using enum window_kind;
    // Harris 1978, Table I, and Heinzel et al. 2002 (one decimal); tolerance 0.3 dB because zero
    // padding by 16 samples the lobes.
    const std::pair<window_kind, double> rows[] = {
        {rectangular, -13.3},     {hann, -31.5},  {hamming, -42.7}, {blackman, -58.1},
        {blackman_harris, -92.0}, {hft70, -70.4}, {hft95, -95.0},   {hft116d, -116.8}};
    for (const auto& [kind, published_db] : rows) {
        CAPTURE(name_of(kind));
        CHECK_THAT(highest_side_lobe_db(kind), WithinAbs(published_db, 0.3));
    }
}

TEST_CASE("spectrum: white noise of known rms has that density", "[analysis][spectrum]") {
    // Parseval: the sum of rms^2 over the bins is rms^2 times the window's noise bandwidth.
    const auto noise = synthesis::noise(48000, 0.1, 1);
    const auto lines =
        amplitude_spectrum(noise, rate, window_kind::hann, amplitude_scale::rms).value();
    const double power =
        std::inner_product(lines.volts.begin(), lines.volts.end(), lines.volts.begin(), 0.0);
    // The window weighs the record unevenly: 48000 samples leave about half a per cent.
    CHECK_THAT(std::sqrt(power / lines.noise_bandwidth_bins), WithinAbs(0.1, 1e-3));
}

TEST_CASE("spectrum: DC and half the rate are read once", "[analysis][spectrum]") {
    std::vector<double> x(16);
    for (std::size_t i = 0; i < x.size(); ++i) x[i] = 0.25 + (i % 2 ? -2.0 : 2.0);
    for (const auto scale : {amplitude_scale::peak, amplitude_scale::rms}) {
        const auto s = amplitude_spectrum(x, rate, window_kind::rectangular, scale).value();
        CHECK_THAT(s.volts.front(), WithinAbs(0.25, 1e-15));
        CHECK_THAT(s.volts.back(), WithinAbs(2.0, 1e-15));
    }
}

TEST_CASE("spectrum: a record of prime length is cut to one that transforms fast",
          "[analysis][spectrum]") {
    const std::vector<double> x(48017, 1.0);
    CHECK(amplitude_spectrum(x, rate, window_kind::hann).value().samples_used == 48000);
    CHECK(fast_length_at_most(17) == 16);
    CHECK(fast_length_at_least(17) == 18);
    CHECK(fast_length_at_most(1) == 0);
    CHECK(fast_length_at_most(44100) == 44100);
    for (std::size_t n = 16; n < 100000; n += 1 + n / 50) {
        const double kept = static_cast<double>(fast_length_at_most(n)) / static_cast<double>(n);
        CAPTURE(n);
        CHECK(kept >= (n < 1000 ? 0.86 : 0.95));
    }
}

TEST_CASE("spectrum: a complex transform and its inverse give back the samples",
          "[analysis][spectrum]") {
    std::vector<complex_volts> x;
    for (const double v : synthesis::noise(240, 1.0, 3)) x.emplace_back(v, 1 - v);
    const auto back = transform(transform(x), true);
    for (std::size_t i = 0; i < x.size(); ++i) CHECK(std::abs(back[i] / 240.0 - x[i]) < 1e-13);
}

TEST_CASE("spectrum: what cannot be transformed is refused by reason", "[analysis][spectrum]") {
    std::vector<double> x(100, 1.0);
    CHECK(amplitude_spectrum(std::span{x}.first(15), rate, window_kind::hann).error() ==
          refusal::too_short);
    CHECK(amplitude_spectrum(x, sample_rate{0}, window_kind::hann).error() ==
          refusal::bad_argument);
    x[3] = std::numeric_limits<double>::infinity();
    CHECK(amplitude_spectrum(x, rate, window_kind::hann).error() == refusal::not_finite);
}
