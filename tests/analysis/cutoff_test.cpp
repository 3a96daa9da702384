#include "analysis/cutoff.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <complex>
#include <cstdlib>
#include <functional>
#include <limits>
#include <numbers>
#include <random>

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

using gain_at = std::function<double(double)>;

constexpr hertz pitch = 65.4064_Hz;

/// Equal poles at `pole_hz`, in a ring with negative feedback.
gain_at poles(int count, double pole_hz, double feedback = 0.0) {
    return [=](double f) {
        const std::complex<double> one_pole{1.0, f / pole_hz};
        return (1.0 + feedback) / std::abs(std::pow(one_pole, count) + feedback);
    };
}

gain_at butterworth(int order, double half_power_hz) {
    return [=](double f) { return 1.0 / std::sqrt(1.0 + std::pow(f / half_power_hz, 2 * order)); };
}

/// The highest frequency at which the gain is 1/sqrt 2 of that at 0 Hz, by bisection from above.
double half_power_of(const gain_at& gain, double from_hz) {
    double above = from_hz;
    while (gain(above * 0.999) < std::sqrt(0.5)) above *= 0.999;
    return above;
}

struct tones {
    std::vector<harmonic_level> heard;
    std::vector<double> source;
};

tones sawtooth(const gain_at& gain, hertz highest = 18_kHz, double noise = 1e-9) {
    tones out;
    for (const auto n : harmonics_up_to(highest, pitch)) {
        const auto k = static_cast<double>(n);
        out.source.push_back(1.0 / k);
        out.heard.push_back({n, volts{2.5 / k * gain(k * pitch.value())}, volts{noise}});
    }
    return out;
}

outcome<cutoff_reading> read(const tones& t, double u_source = 0.001,
                             std::optional<known_gain> known = {}) {
    return measure_cutoff(t.heard, t.source,
                          {.pitch = pitch, .relative_u_source = u_source, .gain = known});
}

std::vector<double> note(const gain_at& gain, sample_rate rate, double seconds_long, double decay_s,
                         double noise, unsigned seed) {
    std::mt19937 random{seed};
    std::normal_distribution<double> hiss{0.0, 1.0};
    std::vector<double> out(static_cast<std::size_t>(seconds_long * rate.value()));
    const auto most = static_cast<int>(0.45 * rate.value() / pitch.value());
    for (int n = 1; n <= most; ++n) {
        const double peak = 2.0 / n * gain(n * pitch.value());
        const double turn = 2.0 * std::numbers::pi * n * pitch.value() / rate.value();
        for (std::size_t i = 0; i < out.size(); ++i)
            out[i] += peak * std::sin(turn * static_cast<double>(i) + 0.3 * n * n);
    }
    for (std::size_t i = 0; i < out.size(); ++i) {
        out[i] *= std::exp(-static_cast<double>(i) / rate.value() / decay_s);
        if (noise > 0.0) out[i] += noise * hiss(random);
    }
    return out;
}

outcome<cutoff_reading> read_note(std::span<const double> sound, sample_rate rate, volts noise) {
    const auto numbers = harmonics_up_to(std::min(18_kHz, 0.42 * hertz{rate.value()}), pitch);
    const auto levels = windowed_levels(sound, rate, pitch, numbers, noise);
    if (!levels) return refuse(levels.error());
    std::vector<double> source;
    for (const auto n : numbers) source.push_back(1.0 / static_cast<double>(n));
    return measure_cutoff(*levels, source, {.pitch = pitch});
}

}  // namespace

TEST_CASE("cutoff: equal poles read f sqrt(2^(1/n) - 1), as the handbook has it",
          "[analysis][cutoff]") {
    // The Circuits and Filters Handbook (W.-K. Chen, ed.; formula from memory); the factors are
    // the formula's value to six places.
    struct row {
        int poles;
        double factor;
    };
    const auto r = GENERATE(row{1, 1.0}, row{2, 0.643594}, row{3, 0.509825}, row{4, 0.434979});
    const double pole = GENERATE(150.0, 480.0, 2000.0, 6000.0);
    CAPTURE(r.poles, pole);
    const auto found = read(sawtooth(poles(r.poles, pole)));
    REQUIRE(found);
    CHECK_FALSE(found->beyond);
    // Half of the last digit of the factor, and what least squares leave.
    CHECK_THAT(found->cutoff / hertz{pole}, WithinAbs(r.factor, 1e-3 * r.factor));
    CHECK_THAT(found->gain, WithinRel(2.5, 1e-3));
    CHECK(found->misfit_ratio < 0.1);
}

TEST_CASE("cutoff: a Butterworth filter of any order to 4 reads its half-power frequency",
          "[analysis][cutoff]") {
    const int order = GENERATE(1, 2, 3, 4);
    const double at = GENERATE(100.0, 1000.0, 5000.0);
    CAPTURE(order, at);
    const auto found = read(sawtooth(butterworth(order, at)));
    REQUIRE(found);
    CHECK_THAT(found->cutoff.value(), WithinRel(at, 1e-3));
}

TEST_CASE("cutoff: resonance moves it to the last crossing, and nowhere else",
          "[analysis][cutoff]") {
    const double feedback = GENERATE(0.5, 1.5, 3.0, 3.8);
    const auto gain = poles(4, 700.0, feedback);
    CAPTURE(feedback);
    const auto found = read(sawtooth(gain));
    REQUIRE(found);
    CHECK_THAT(found->cutoff.value(), WithinRel(half_power_of(gain, 5000.0), 2e-3));
}

TEST_CASE("cutoff: one above every harmonic is at least the highest, and says so",
          "[analysis][cutoff]") {
    const auto found = read(sawtooth(poles(4, 60000.0), 12_kHz));
    REQUIRE(found);
    CHECK(found->beyond);
    CHECK(found->cutoff <= 12_kHz);
    CHECK(found->cutoff > 10_kHz);
    CHECK(found->u_cutoff == 0_Hz);
}

TEST_CASE("cutoff: one below the fundamental is read with the gain known, and with its uncertainty",
          "[analysis][cutoff]") {
    const auto gain = poles(4, 110.0, 1.0);
    const double truth = half_power_of(gain, 500.0);
    const auto known = read(sawtooth(gain), 0.002, known_gain{2.5 * 1.01, 0.01});
    REQUIRE(known);
    CHECK(known->u_cutoff > 0_Hz);
    CHECK(known->u_cutoff < 0.02 * known->cutoff);
    CHECK_THAT(known->cutoff.value(), WithinAbs(truth, 3.0 * known->u_cutoff.value()));
}

TEST_CASE("cutoff: gain and unit of level leave it alone", "[analysis][cutoff]") {
    auto t = sawtooth(poles(4, 900.0, 1.0));
    const auto before = read(t);
    for (auto& h : t.heard) h.peak = h.peak * 0.01;
    const auto after = read(t);
    REQUIRE((before && after));
    CHECK_THAT(after->cutoff.value(), WithinRel(before->cutoff.value(), 1e-9));
}

TEST_CASE("cutoff: what is no low-pass or no tone is refused", "[analysis][cutoff]") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    const auto rising = read(sawtooth([](double f) { return f / 1000.0; }));
    CHECK((!rising || rising->beyond));
    CHECK(read(sawtooth([](double) { return 0.0; })).error() == refusal::silent);
    CHECK(read(sawtooth(poles(4, 800.0), 18_kHz, 10.0)).error() == refusal::too_short);
    auto bad = sawtooth(poles(4, 800.0));
    bad.heard[3].peak = volts{nan};
    CHECK(read(bad).error() == refusal::bad_argument);
    bad.source.pop_back();
    CHECK(read(bad).error() == refusal::bad_argument);
    // Levels that follow no all-pole filter: a comb.
    const auto comb =
        read(sawtooth([](double f) { return 0.1 + std::abs(std::sin(f / 90.0)); }, 6_kHz));
    CHECK((!comb || comb->misfit_ratio > 3.0));
}

TEST_CASE("cutoff: read from the sound, at every sample rate, off-bin, decaying and noisy",
          "[analysis][cutoff]") {
    const sample_rate rate{GENERATE(44100.0, 48000.0, 96000.0, 192000.0)};
    const double pole = GENERATE(200.0, 1500.0);
    const auto gain = poles(4, pole, 1.0);
    const double truth = half_power_of(gain, 8.0 * pole);
    CAPTURE(rate.value(), pole);
    const double noise = 1e-4 * std::sqrt(rate.value() / 48000.0);
    const auto found = read_note(note(gain, rate, 0.05, 3.5, noise, 5), rate, volts{noise});
    REQUIRE(found);
    CHECK_THAT(found->cutoff.value(), WithinAbs(truth, 3.0 * found->u_cutoff.value()));
    CHECK(found->u_cutoff < 0.02 * found->cutoff);
}

TEST_CASE("cutoff: short, silent and broken records are refused; a clipped one is not trusted",
          "[analysis][cutoff]") {
    const sample_rate rate{48000.0};
    auto sound = note(poles(4, 800.0, 1.0), rate, 0.05, 3.5, 0.0, 1);
    CHECK(read_note(std::span{sound}.first(1000), rate, 0_V).error() == refusal::too_short);
    CHECK(read_note(std::vector<double>(2400, 0.0), rate, 0_V).error() == refusal::silent);
    auto clipped = sound;
    for (auto& v : clipped) v = std::clamp(v, -0.3, 0.3);
    const auto found = read_note(clipped, rate, 0_V);
    CHECK((!found || found->misfit_ratio > 3.0));
    sound[77] = std::numeric_limits<double>::infinity();
    CHECK(read_note(sound, rate, 0_V).error() == refusal::not_finite);
}

TEST_CASE("cutoff: a harmonic that falls fast leaks little into the others", "[analysis][cutoff]") {
    // It falls by half in two periods. Under a Hann window that would leak 1.8 % of it into the next: its
    // kernel's slope two bins off, 1/6 a bin, times ln 2 / 2 pi (standard mathematics).
    const sample_rate rate{48000.0};
    const double period_s = 1.0 / pitch.value();
    const double start = GENERATE(0.0, 0.2, 0.4, 0.7);
    std::vector<double> sound;
    for (double t = 0.0; t < 2.01 * period_s; t += 1.0 / rate.value())
        sound.push_back(std::exp2(-t / (2.0 * period_s)) *
                        std::sin(6.0 * std::numbers::pi * (t / period_s + start)));
    const std::vector<std::size_t> numbers{2, 3, 4, 7};
    const auto levels = windowed_levels(sound, rate, pitch, numbers, 0_V);
    REQUIRE(levels);
    CHECK_THAT((*levels)[1].peak.value(), WithinRel(std::exp2(-0.5), 0.02));
    for (const std::size_t other : {0UL, 2UL, 3UL}) CHECK((*levels)[other].peak.value() < 0.006);
}

TEST_CASE("cutoff: a window's level of a harmonic is exact beside its neighbours",
          "[analysis][cutoff]") {
    const sample_rate rate{48000.0};
    struct row {
        double periods;
        double noise_bandwidth;  ///< in bins of the window's own length
    };
    // Triangle and de la Vallee Poussin: F. J. Harris, Proc. IEEE 66(1), 1978, table 1 (to 2 decimals);
    // three equal boxes: the integral of the square of the quadratic B-spline is 11/20.
    const auto [periods, noise_bandwidth] =
        GENERATE(row{2.0, 1.33}, row{3.0, 1.65}, row{4.7, 1.92});
    const auto sound =
        note([](double) { return 1.0; }, rate, periods / pitch.value() + 1e-4, 1e9, 0.0, 1);
    const std::vector<std::size_t> numbers{1, 2, 3, 10, 100};
    const auto levels = windowed_levels(sound, rate, pitch, numbers, 1_V);
    REQUIRE(levels);
    for (const auto& level : *levels)
        CHECK_THAT(level.peak.value() * static_cast<double>(level.number), WithinAbs(2.0, 4e-3));
    CHECK_THAT(levels->front().u_peak.value(),
               WithinRel(std::sqrt(2.0 * noise_bandwidth / (std::floor(periods) * 733.87)), 0.01));
}
