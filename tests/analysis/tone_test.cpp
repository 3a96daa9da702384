#include "analysis/tone.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <numbers>

#include "tests/support/aubio_pitch.hpp"
#include "tests/support/synthetic_tone.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::test_support;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

constexpr sample_rate rate{48000.0};
const tone_request no_mains{hertz{20.0}, hertz{4000.0}, hertz{0.0}};

std::vector<double> sine(hertz pitch, std::size_t samples, sample_rate at = rate,
                         double phase = 0.3) {
    return rendered_volts({.pitch = pitch, .harmonics_volts = {std::polar(1.0, phase)}}, at,
                          samples);
}

synthetic_tone saw(hertz pitch, ladder_filter filter = {hertz{1500.0}, 2.0}) {
    return {.pitch = pitch,
            .harmonics_volts = filtered_wave(waveform::saw, pitch, filter, hertz{20000.0}, 1.0)};
}

double error_cents(const tone_reading& r, hertz truth) {
    return interval(r.pitch, truth).value();
}

tone_reading read(const std::vector<double>& samples_volts, const tone_request& request = {},
                  sample_rate at = rate) {
    const auto reading = measure_tone(samples_volts, at, request);
    REQUIRE(reading.has_value());
    return *reading;
}

refusal refused(const std::vector<double>& samples_volts, const tone_request& request = {}) {
    const auto reading = measure_tone(samples_volts, rate, request);
    REQUIRE_FALSE(reading.has_value());
    return reading.error();
}

}  // namespace

TEST_CASE("tone: a sine at the centre of a bin reads to rounding", "[analysis][tone]") {
    // 44 periods in 4801 samples: its Fourier series is one line, so amplitude and pitch are exact.
    const hertz pitch{44.0 * rate.value() / 4801.0};
    const auto r = read(sine(pitch, 4801), no_mains);
    CHECK_THAT(error_cents(r, pitch), WithinAbs(0.0, 1e-8));
    CHECK_THAT(r.harmonics.front().value(), WithinAbs(1.0, 1e-10));
    CHECK_THAT(r.dc.value(), WithinAbs(0.0, 1e-10));
    CHECK_THAT(r.decay.value(), WithinAbs(0.0, 1e-8));
    CHECK(r.snr.value() > 100.0);
}

TEST_CASE("tone: the notes of equal temperament read within a thousandth of a cent",
          "[analysis][tone]") {
    // ISO 16:1975: A4 = 440 Hz; semitones of 2^(1/12). C1 to C7 are MIDI notes 24 to 96.
    double worst = 0.0;
    for (int note = 24; note <= 96; ++note) {
        const hertz pitch{440.0 * std::exp2((note - 69) / 12.0)};
        const auto r = read(rendered_volts(saw(pitch), rate, 7200));
        worst = std::max(worst, std::abs(error_cents(r, pitch)));
        CHECK(std::abs(error_cents(r, pitch)) < 1e-3);
    }
    WARN("worst error over C1 to C7: " << worst << " cents");
}

TEST_CASE("tone: one harmonic is the four-parameter sine fit of IEEE Std 1057",
          "[analysis][tone]") {
    // IEEE Std 1057-2017, four-parameter least-squares fit in matrix form. The record, made from
    // 0.25 + 0.8 cos(2 pi 0.1234 n) - 0.6 sin(2 pi 0.1234 n) and noise, and its fit were computed
    // with 40 digits; formulas from memory.
    const std::vector<double> record{1.0531,  0.3975,  -0.3303, -0.7431, -0.5731, 0.0588,  0.8027,
                                     1.2250,  1.0908,  0.4778,  -0.2602, -0.7248, -0.6204, -0.0164,
                                     0.7376,  1.2172,  1.1418,  0.5570,  -0.1954, -0.6926, -0.6587,
                                     -0.0916, 0.6642,  1.1908,  1.1668,  0.6321,  -0.1187, -0.6610,
                                     -0.6917, -0.1797, 0.5909,  1.1397};
    const sample_rate unit{1.0};
    const auto r = read(record, {hertz{0.1}, hertz{0.15}, hertz{0.0}, false, 1}, unit);
    REQUIRE(r.harmonics.size() == 1);
    CHECK_THAT(r.pitch.value(), WithinAbs(0.123378043275388, 1e-9));
    CHECK_THAT(r.harmonics.front().value(), WithinAbs(1.00197915209156, 1e-7));
    CHECK_THAT(r.dc.value(), WithinAbs(0.250452951902694, 1e-7));
    CHECK_THAT(r.residual_rms.value(), WithinAbs(0.004979660387555, 1e-9));
    // s^2 = RSS / 28 there; a residual that looks coloured may only widen it.
    CHECK(r.u_pitch.value() > 0.999 * 2.30419822838e-05);
    CHECK(r.u_pitch.value() < 2.0 * 2.30419822838e-05);
}

TEST_CASE("tone: the scatter over noise is that of the Cramer-Rao bound", "[analysis][tone]") {
    // Rife and Boorstyn 1974; Kay 1993, example 3.14: 440 Hz, 48 kHz, 4800 samples, peak 1, noise
    // 0.01 rms: standard deviation 0.00442801 cents at least.
    constexpr double bound_cents = 0.00442801;
    const hertz pitch{440.0};
    const auto clean = sine(pitch, 4800);
    double squares = 0.0;
    double mean = 0.0;
    int covered = 0;
    constexpr int runs = 300;
    for (int i = 0; i < runs; ++i) {
        const auto r = read(
            sum(clean, white_noise(clean.size(), volts{0.01}, 100U + static_cast<unsigned>(i))));
        const double e = error_cents(r, pitch);
        squares += e * e / runs;
        mean += e / runs;
        covered += std::abs(e) <= 2.0 * r.u_cents().value() ? 1 : 0;
        CHECK_THAT(r.snr.value(), WithinAbs(36.99, 0.5));
    }
    // 300 runs know a standard deviation to 4.1 %: three of those either way.
    CHECK(std::sqrt(squares) > 0.877 * bound_cents);
    CHECK(std::sqrt(squares) < 1.123 * bound_cents);
    CHECK(std::abs(mean) < 3.0 * bound_cents / std::sqrt(static_cast<double>(runs)));
    // 95.4 % expected, binomial spread 1.2 %.
    CHECK(covered >= 275);
}

TEST_CASE("tone: harmonics bring the scatter down to the harmonic bound", "[analysis][tone]") {
    // Nielsen et al. 2017 (asymptotic bound): A_l = 1/l, 10 harmonics, otherwise as above:
    // 0.00140026 cents.
    constexpr double bound_cents = 0.00140026;
    synthetic_tone tone{.pitch = hertz{440.0}};
    for (int l = 1; l <= 10; ++l) tone.harmonics_volts.push_back(std::polar(1.0 / l, 0.7 * l));
    const auto clean = rendered_volts(tone, rate, 4800);
    double squares = 0.0;
    constexpr int runs = 200;
    for (int i = 0; i < runs; ++i) {
        const auto r = read(
            sum(clean, white_noise(clean.size(), volts{0.01}, 900U + static_cast<unsigned>(i))));
        squares += std::pow(error_cents(r, tone.pitch), 2) / runs;
    }
    CHECK(std::sqrt(squares) > 0.85 * bound_cents);
    CHECK(std::sqrt(squares) < 1.15 * bound_cents);
}

TEST_CASE("tone: hum, offset and decay leave the pitch alone", "[analysis][tone]") {
    auto tone = saw(hertz{55.0});
    tone.dc = volts{0.4};
    tone.decay = per_second{5.0};
    tone.hum = {hertz{50.2}, {volts{0.02}, volts{0.01}, volts{0.01}}};  // mains off by 0.4 %
    const auto r = read(rendered_volts(tone, rate, 24000));
    CHECK_THAT(error_cents(r, tone.pitch), WithinAbs(0.0, 1e-4));
    CHECK_THAT(r.decay.value(), WithinAbs(5.0, 1e-3));
    CHECK_THAT(r.dc.value(), WithinAbs(0.4, 1e-5));
    CHECK_THAT(r.harmonics.front().value(),
               WithinAbs(std::abs(tone.harmonics_volts.front()), 1e-4));
}

TEST_CASE("tone: a note that dies early reads its whole sound", "[analysis][tone]") {
    auto tone = saw(hertz{110.0});
    tone.decay = per_second{30.0};  // 30 nepers (260 dB) over the record
    const auto r = read(rendered_volts(tone, rate, 48000));
    CHECK_THAT(error_cents(r, tone.pitch), WithinAbs(0.0, 1e-3));
    CHECK_THAT(r.decay.value(), WithinAbs(30.0, 1e-2));
    CHECK_THAT(r.periods, WithinAbs(110.0, 0.1));
}

TEST_CASE("tone: no octave is ever wrong, whatever harmonic is loudest", "[analysis][tone]") {
    const auto wave = GENERATE(waveform::saw, waveform::square, waveform::blend);
    double worst = 0.0;
    for (const double pitch_hz : {41.2, 65.4, 110.0, 233.1, 523.3, 1046.5})
        for (const double harmonic : {1.0, 2.0, 3.0, 4.0, 6.0})
            for (const double periods : {4.0, 9.3, 40.0}) {
                const hertz pitch{pitch_hz};
                // Feedback 3.9 of 4: the harmonic at the cutoff stands some 30 dB out.
                synthetic_tone tone{.pitch = pitch,
                                    .harmonics_volts = filtered_wave(
                                        wave, pitch, {pitch * harmonic, 3.9}, hertz{20000.0}, 0.4)};
                const auto samples = static_cast<std::size_t>(periods * rate.value() / pitch_hz);
                auto record = rendered_volts(tone, rate, samples);
                record = sum(record, white_noise(samples, volts{0.01 * rms(record)}, samples));
                CAPTURE(pitch_hz, harmonic, periods);
                const auto r = measure_tone(record, rate);
                REQUIRE(r.has_value());
                CHECK(std::abs(error_cents(*r, pitch)) < 5.0);
                worst = std::max(worst, std::abs(error_cents(*r, pitch)));
            }
    WARN("worst error at 40 dB: " << worst << " cents");
}

TEST_CASE("tone: a lone peak far above the harmonics makes no octave wrong", "[analysis][tone]") {
    // As noise throws up in one record of some thousands; all harmonics between count for nothing.
    const hertz pitch{184.545};
    synthetic_tone tone{.pitch = pitch, .harmonics_volts = {}};
    tone.harmonics_volts.resize(79, 0.0);
    for (std::size_t k = 1; k <= 8; ++k)
        tone.harmonics_volts[k - 1] = std::polar(1.0 / static_cast<double>(k), 0.3);
    tone.harmonics_volts[78] = 2e-4;
    const auto record = sum(rendered_volts(tone, rate, 8016), white_noise(8016, volts{1e-3}, 5));
    CHECK(std::abs(error_cents(read(record), pitch)) < 0.1);
}

TEST_CASE("tone: one weak line between many harmonics makes the pitch lower", "[analysis][tone]") {
    // The pitch is the greatest common divisor of all lines: with one at 4/3 of the loud tone, a
    // third of that tone's pitch. At 64 dB a tenth of a cent is many times the scatter.
    synthetic_tone tone{.pitch = hertz{26.3}};
    tone.harmonics_volts.resize(129, 0.0);
    for (std::size_t k = 1; k <= 43; ++k)
        tone.harmonics_volts[3 * k - 1] =
            std::polar(1.0 / static_cast<double>(k), 0.7 * static_cast<double>(k));
    const auto loud = sum(rendered_volts(tone, rate, 4800), white_noise(4800, volts{4e-4}, 3));
    CHECK(std::abs(error_cents(read(loud), hertz{78.9})) < 0.1);
    tone.harmonics_volts[3] = 0.016;
    const auto both = sum(rendered_volts(tone, rate, 4800), white_noise(4800, volts{4e-4}, 3));
    CHECK(std::abs(error_cents(read(both), tone.pitch)) < 0.1);
}

TEST_CASE("tone: sample rate does not matter", "[analysis][tone]") {
    const double hertz_rate = GENERATE(44100.0, 48000.0, 88200.0, 96000.0, 192000.0);
    const sample_rate at{hertz_rate};
    const auto tone = saw(hertz{97.3});
    const auto r =
        read(rendered_volts(tone, at, static_cast<std::size_t>(0.1 * hertz_rate)), {}, at);
    CHECK_THAT(error_cents(r, tone.pitch), WithinAbs(0.0, 1e-4));
}

TEST_CASE("tone: gain, polarity and delay leave the pitch alone", "[analysis][tone]") {
    const auto tone = saw(hertz{82.4});
    auto record = rendered_volts(tone, rate, 9600);
    record = sum(record, white_noise(record.size(), volts{1e-3}, 5));
    const auto plain = read(record);

    const double gain = GENERATE(-1.0, 0.001, 37.0);
    auto scaled = record;
    for (double& v : scaled) v *= gain;
    const auto r = read(scaled);
    // Iterations may stop a rounding apart: far below the uncertainty of 2e-4 cents.
    CHECK_THAT(error_cents(r, plain.pitch), WithinAbs(0.0, 1e-7));
    CHECK_THAT(r.harmonics.front() / plain.harmonics.front(),
               WithinAbs(std::abs(gain), 1e-8 * std::abs(gain)));
    CHECK_THAT(r.snr.value(), WithinAbs(plain.snr.value(), 1e-6));

    const std::vector<double> later(record.begin() + 480, record.end());
    CHECK(std::abs(error_cents(read(later), plain.pitch)) < 4.0 * plain.u_cents().value());
}

TEST_CASE("tone: two runs give the same bits", "[analysis][tone]") {
    auto record = rendered_volts(saw(hertz{61.7}), rate, 5000);
    record = sum(record, white_noise(record.size(), volts{1e-3}, 8));
    const auto a = read(record);
    const auto b = read(record);
    CHECK(a.pitch == b.pitch);
    CHECK(a.u_pitch == b.u_pitch);
    CHECK(a.harmonics == b.harmonics);
}

TEST_CASE("tone: each harmonic decaying at its own rate is covered by the uncertainty",
          "[analysis][tone]") {
    double worst = 0.0;
    for (const double pitch_hz : {36.7, 55.0, 98.0, 207.7, 440.0}) {
        auto tone = saw(hertz{pitch_hz});
        tone.decay = per_second{1.0};
        for (int k = 0; k < 40; ++k) tone.own_decays.emplace_back(1.5 * std::sqrt(k));
        tone.hum = {hertz{49.8}, {volts{0.01}, volts{0.003}, volts{0.005}}};
        const auto r = read(rendered_volts(tone, rate, 12000));
        const double error = std::abs(error_cents(r, tone.pitch));
        CAPTURE(pitch_hz);
        CHECK(error < 0.1);
        CHECK(error < 2.0 * r.u_cents().value());
        worst = std::max(worst, error);
    }
    WARN("worst error of misfit notes: " << worst << " cents");
}

TEST_CASE("tone: aubio agrees within its own error", "[analysis][tone]") {
    for (const double pitch_hz : {55.0, 110.0, 220.0, 440.0}) {
        const auto record = rendered_volts(saw(hertz{pitch_hz}), rate, 24000);
        const auto other = aubio_pitch("yinfast", record, rate);
        REQUIRE(other.has_value());
        CAPTURE(pitch_hz);
        // Its parabola over lags of whole samples errs by up to 2 cents or so at these pitches.
        CHECK_THAT(interval(*other, read(record).pitch).value(), WithinAbs(0.0, 3.0));
    }
}

TEST_CASE("tone: what has no pitch is refused by name", "[analysis][tone]") {
    CHECK(refused(std::vector<double>(4800, 0.0)) == refusal::silent);
    CHECK(refused(std::vector<double>(4800, 2.5)) == refusal::silent);
    CHECK(refused(sine(hertz{440.0}, 31)) == refusal::too_short);
    CHECK(refused(sine(hertz{440.0}, 4800), {hertz{100.0}, hertz{50.0}}) == refusal::bad_argument);
    CHECK(refused(sine(hertz{440.0}, 4800), {hertz{20.0}, hertz{24000.0}}) ==
          refusal::bad_argument);
    auto holed = sine(hertz{440.0}, 4800);
    holed[1234] = std::numeric_limits<double>::quiet_NaN();
    CHECK(refused(holed) == refusal::not_finite);
    holed[1234] = std::numeric_limits<double>::infinity();
    CHECK(refused(holed) == refusal::not_finite);
}

TEST_CASE("tone: noise alone is refused", "[analysis][tone]") {
    for (unsigned seed = 1; seed <= 60; ++seed) {
        CAPTURE(seed);
        const auto reason = refused(white_noise(2000U + 400U * seed, volts{0.3}, seed));
        CHECK((reason == refusal::no_pitch || reason == refusal::no_fit));
    }
}

TEST_CASE("tone: hum alone is refused", "[analysis][tone]") {
    const synthetic_tone hum{.pitch = hertz{50.1},
                             .harmonics_volts = {{0.1, 0.0}, {0.03, 0.0}, {0.05, 0.0}}};
    auto record = rendered_volts(hum, rate, 24000);
    record = sum(record, white_noise(record.size(), volts{1e-4}, 3));
    CHECK(refused(record) == refusal::no_pitch);
}
