#include "analysis/wave_profile.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>
#include <vector>

#include "analysis/inharmonic.hpp"
#include "analysis/wave_pitch.hpp"
#include "tests/analysis/synthesis.hpp"
#include "tests/support/synthetic_tone.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

namespace {

constexpr double pi = std::numbers::pi;
constexpr double pitch_hz = 130.77;
constexpr int count = 13;

/// A pulse between -1 and +1 V, high for `duty`, its rise at phase 0: 4/(pi k) sin(pi k d)
/// cos(k (x - pi d)).
std::vector<synthesis::partial> pulse(double duty, std::size_t harmonics) {
    std::vector<synthesis::partial> p;
    for (std::size_t k = 1; k <= harmonics; ++k) {
        const double n = static_cast<double>(k);
        p.push_back({4.0 / (pi * n) * std::sin(pi * n * duty), -pi * n * duty});
    }
    return p;
}

std::vector<synthesis::partial> mixed(double square_share, std::size_t harmonics) {
    auto p = synthesis::sawtooth(harmonics);
    const auto s = synthesis::square(harmonics);
    for (std::size_t k = 0; k < harmonics; ++k)
        p[k].peak_volts = (1.0 - square_share) * p[k].peak_volts + square_share * s[k].peak_volts;
    return p;
}

/// Four poles with feedback after the wave, and AC coupling at 5 Hz.
std::vector<synthesis::partial> filtered(std::vector<synthesis::partial> p, hertz cutoff,
                                         double feedback) {
    const test_support::ladder_filter filter{cutoff, feedback};
    for (std::size_t k = 0; k < p.size(); ++k) {
        const double f = pitch_hz * static_cast<double>(k + 1);
        const auto high_pass = 1.0 / std::complex<double>{1.0, -5.0 / f};
        const auto h = filter.response(hertz{f}) * high_pass;
        p[k].peak_volts *= std::abs(h);
        p[k].phase_radians += std::arg(h);
    }
    return p;
}

wave_profile profile(const std::vector<synthesis::partial>& wave, double noise = 1e-4,
                     double rate_hz = 48000.0, double delay = 123.4) {
    const auto n = static_cast<std::size_t>(0.278 * rate_hz);
    const auto x = synthesis::sum(synthesis::additive(wave, pitch_hz, rate_hz, n, delay),
                                  synthesis::noise(n, noise, 7));
    const auto spectrum = line_reader::of(x, sample_rate{rate_hz});
    REQUIRE(spectrum);
    const auto pitch = pitch_of_wave(*spectrum, 128_Hz, count);
    REQUIRE(pitch);
    // So far from the truth a harmonic 13 times as high is off by 0.03 bins.
    REQUIRE_THAT(*pitch / spectrum->bin_width(),
                 WithinAbs(hertz{pitch_hz} / spectrum->bin_width(), 0.002));
    const auto p = profile_of(*spectrum, *pitch, count);
    REQUIRE(p);
    return *p;
}

}  // namespace

TEST_CASE("wave profile: the Fourier series of saw, blend and square read as such",
          "[analysis][waveform]") {
    // Saw 1/k, square 1/k at odd k (such as Oppenheim and Willsky, Signals and Systems, 2nd
    // ed., table 4.2); even harmonics of the half-way blend a third of a saw's beside its odd ones.
    struct row {
        double share, even, balance_db;
    };
    const auto r =
        GENERATE(row{0.0, 1.0, 0.0}, row{0.5, 1.0 / 3.0, -9.5424}, row{0.7, 3.0 / 17.0, -15.066});
    CAPTURE(r.share);
    const auto p = profile(mixed(r.share, 100), 1e-6);
    // Leakage of the reader and 1 uV of noise.
    CHECK_THAT(even_share(p).value, WithinAbs(r.even, 2e-4));
    CHECK_THAT(square_share_percent(p).value, WithinAbs(100.0 * r.share, 0.02));
    CHECK_THAT(even_odd_balance_db(p).value, WithinAbs(r.balance_db, 0.003));
}

TEST_CASE("wave profile: a square has no even harmonics but what noise could be",
          "[analysis][waveform]") {
    const auto p = profile(synthesis::square(100), 1e-4);
    const auto balance = even_odd_balance_db(p);
    CHECK(balance.value < -70.0);
    CHECK_THAT(square_share_percent(p).value, WithinAbs(100.0, 0.1));
    CHECK_THAT(p.high_share.value, WithinAbs(50.0, 0.02));
    CHECK(distance_db(p, classic_wave::square).value < -60.0);
    // A saw has all of the even ones: sum of 1/k^2 over even k to 12 over all k to 13.
    CHECK_THAT(distance_db(p, classic_wave::saw).value,
               WithinAbs(10.0 * std::log10(0.372847 / 1.570894), 0.02));
}

TEST_CASE("wave profile: the filter cannot explain a wave away", "[analysis][waveform]") {
    const auto cutoff = GENERATE(3000_Hz, 5000_Hz, 20000_Hz);
    const double feedback = GENERATE(0.0, 1.0, 2.0);
    const double share = GENERATE(0.0, 0.5, 1.0);
    CAPTURE(cutoff.value(), feedback, share);
    const auto p = profile(filtered(mixed(share, 60), cutoff, feedback));
    const auto read = square_share_percent(p);
    CHECK_THAT(read.value, WithinAbs(100.0 * share, std::max(0.2, 3.0 * read.u)));
    CHECK(read.u < 1.0);
}

TEST_CASE("wave profile: what the filter cannot follow counts where it hurts",
          "[analysis][waveform]") {
    // 10 uV of noise show that four poles with feedback, so low, turn the phases unlike the fit.
    const auto sharp = profile(filtered(mixed(0.5, 60), 3000_Hz, 1.5), 1e-5);
    // The distance of a blend from itself is nothing but that, and says so.
    const auto distance = distance_db(sharp, classic_wave::blend);
    CHECK(distance.value < -50.0);
    CHECK(distance.u > 2.0);
    // The even harmonics hardly know of it: its phase turns them, their level it leaves.
    const auto bare = profile(mixed(0.5, 60), 1e-5);
    CHECK(square_share_percent(sharp).u < 8.0 * square_share_percent(bare).u);
    CHECK_THAT(square_share_percent(sharp).value,
               WithinAbs(50.0, 3.0 * square_share_percent(sharp).u));
}

TEST_CASE("wave profile: the same at every rate and for every start", "[analysis][waveform]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    const double delay = GENERATE(0.0, 77.7, 301.2);
    const auto p = profile(filtered(mixed(0.5, 60), 5000_Hz, 1.0), 1e-4, rate, delay);
    CHECK_THAT(square_share_percent(p).value, WithinAbs(50.0, 0.2));
}

TEST_CASE("wave profile: rising and falling saws are saws", "[analysis][waveform]") {
    auto rising = synthesis::sawtooth(60);
    for (auto& h : rising) h.peak_volts = -h.peak_volts;
    const auto p = profile(rising);
    CHECK_THAT(square_share_percent(p).value, WithinAbs(0.0, 0.1));
    CHECK(distance_db(p, classic_wave::saw).value < -60.0);
}

TEST_CASE("wave profile: a pulse's duty is read from its second harmonic", "[analysis][waveform]") {
    // Pulse: harmonic k is 4/(pi k) sin(pi k d).
    const double duty = GENERATE(0.40, 0.45, 0.48, 0.495, 0.5, 0.51, 0.53, 0.6);
    CAPTURE(duty);
    const auto p = profile(pulse(duty, 100), 1e-5);
    CHECK_THAT(p.high_share.value, WithinAbs(100.0 * duty, 0.01));
    const auto through = profile(filtered(pulse(duty, 60), 5000_Hz, 1.0), 1e-5);
    CHECK_THAT(through.high_share.value,
               WithinAbs(100.0 * duty, std::max(0.02, 3.0 * through.high_share.u)));
}

TEST_CASE("wave profile: a triangle is none of them", "[analysis][waveform]") {
    const auto p = profile(synthesis::triangle(60), 1e-5);
    CHECK(distance_db(p, classic_wave::square).value > -30.0);
}

TEST_CASE("wave profile: what cannot be read is refused by name", "[analysis][waveform]") {
    const sample_rate rate{48000.0};
    const auto saw = synthesis::additive(synthesis::sawtooth(60), pitch_hz, 48000.0, 13000);
    const auto of = [&](std::span<const double> x) { return line_reader::of(x, rate).value(); };
    CHECK(profile_of(of(saw), hertz{pitch_hz}, 5).error() == refusal::bad_argument);
    CHECK(profile_of(of(saw), 4000_Hz, 13).error() == refusal::bad_argument);
    CHECK(profile_of(of(std::span{saw}.first(4000)), hertz{pitch_hz}, 13).error() ==
          refusal::too_short);
    CHECK(profile_of(of(std::vector<double>(13000)), hertz{pitch_hz}, 13).error() ==
          refusal::silent);
    const auto noise = of(synthesis::noise(13000, 1.0, 3));
    CHECK(profile_of(noise, hertz{pitch_hz}, 13).error() == refusal::silent);
    CHECK(pitch_of_wave(noise, hertz{pitch_hz}, 13).error() == refusal::no_pitch);
    CHECK(pitch_of_wave(of(std::vector<double>(13000)), hertz{pitch_hz}, 13).error() ==
          refusal::no_pitch);
    CHECK(pitch_of_wave(of(saw), 0_Hz, 13).error() == refusal::bad_argument);
    CHECK(pitch_of_wave(of(std::span{saw}.first(4000)), hertz{pitch_hz}, 13).error() ==
          refusal::too_short);
}

TEST_CASE("inharmonic: a line beside the harmonics reads as its power", "[analysis][waveform]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    const double level_db = GENERATE(-20.0, -40.0, -60.0);
    CAPTURE(rate, level_db);
    const auto n = static_cast<std::size_t>(0.178 * rate);
    const auto note = synthesis::additive(synthesis::sawtooth(15), 1046.5, rate, n);
    double power = 0.0;
    for (const auto& h : synthesis::sawtooth(15)) power += h.peak_volts * h.peak_volts;
    const double peak = std::sqrt(power) * std::pow(10.0, level_db / 20.0);
    auto x = synthesis::sum(note, synthesis::additive({{peak, 0.4}}, 3500.0, rate, n));
    x = synthesis::sum(x, synthesis::noise(n, 1e-4, 3));
    const auto r =
        measure_inharmonic(x, synthesis::noise(n, 1e-4, 5), sample_rate{rate}, 1046.5_Hz);
    REQUIRE(r);
    CHECK_THAT(r->level.value(), WithinAbs(level_db, std::max(0.1, 3.0 * r->u.value())));
    CHECK_THAT(r->loudest.value(), WithinAbs(3500.0, 6.0));
}

TEST_CASE("inharmonic: a naive saw folds as the sampling theorem says", "[analysis][waveform]") {
    // Harmonics of 2/(pi k) above half the rate come back below it, none of them lost: their power
    // over that of the harmonics that fit, all below 21.6 kHz, by the series.
    const double rate = 48000.0;
    const double f = 1046.5;
    const auto n = static_cast<std::size_t>(0.178 * rate);
    std::vector<double> naive(n);
    for (std::size_t i = 0; i < n; ++i) {
        const double phase = std::fmod(f * static_cast<double>(i) / rate + 0.123, 1.0);
        naive[i] = 1.0 - 2.0 * phase;
    }
    double in = 0.0;
    double folded = 0.0;
    for (int k = 1; k < 100000; ++k) {
        const double at = std::abs(std::remainder(k * f, rate));
        const double p = 1.0 / (static_cast<double>(k) * k);
        if (at < f / 2.0 || at > 20000.0) continue;
        (k * f < rate / 2.0 ? in : folded) += p;
    }
    const auto r =
        measure_inharmonic(naive, synthesis::noise(n, 1e-6, 5), sample_rate{rate}, hertz{f});
    REQUIRE(r);
    // Lines of both signs of folding stand some Hz apart and beat; few fall on a harmonic.
    CHECK_THAT(r->level.value(), WithinAbs(10.0 * std::log10(folded / in), 0.5));
}

TEST_CASE("inharmonic: a clean note reads as low as its noise allows", "[analysis][waveform]") {
    const auto n = std::size_t{8544};
    const auto x = synthesis::sum(synthesis::additive(synthesis::sawtooth(15), 1046.5, 48000.0, n),
                                  synthesis::noise(n, 1e-3, 3));
    const auto r =
        measure_inharmonic(x, synthesis::noise(7200, 1e-3, 5), sample_rate{48000.0}, 1046.5_Hz);
    REQUIRE(r);
    CHECK(r->level.value() < -60.0);
    CHECK(measure_inharmonic(synthesis::noise(n, 1.0, 3), synthesis::noise(n, 1.0, 4),
                             sample_rate{48000.0}, 1046.5_Hz)
              .error() == refusal::silent);
    CHECK(measure_inharmonic(std::span{x}.first(400), x, sample_rate{48000.0}, 1046.5_Hz).error() ==
          refusal::too_short);
}
