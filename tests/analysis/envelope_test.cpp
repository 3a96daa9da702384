#include "analysis/envelope.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>
#include <random>
#include <vector>

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

namespace {

constexpr sample_rate rate{48000.0};

/// Sum of harmonics with amplitude `of(k)`, times a gain that depends on time.
std::vector<double> note(double hz, std::size_t harmonics,
                         const std::function<double(std::size_t)>& of, double length_s,
                         const std::function<double(double)>& gain) {
    std::vector<double> x(static_cast<std::size_t>(length_s * rate.value()));
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double t = static_cast<double>(i) / rate.value();
        double sum = 0.0;
        for (std::size_t k = 1; k <= harmonics; ++k) {
            sum += of(k) * std::sin(2 * std::numbers::pi * hz * static_cast<double>(k) * t);
        }
        x[i] = gain(t) * sum;
    }
    return x;
}

double saw_line(std::size_t k) {
    return 1.0 / static_cast<double>(k);
}

double steady(double /*t*/) {
    return 1.0;
}

void add_noise(std::vector<double>& x, double rms_v, unsigned seed) {
    std::mt19937 random{seed};
    std::normal_distribution<double> normal{0.0, rms_v};
    for (double& v : x) v += normal(random);
}

const envelope_frame& middle(const std::vector<envelope_frame>& frames) {
    return frames[frames.size() / 2];
}

}  // namespace

TEST_CASE("envelope: brightness of a band-limited saw is its THD in decibels",
          "[analysis][envelope]") {
    // THD_F of a saw cut after harmonic K, from its Fourier series (harmonic k at -20 lg k dB;
    // standard mathematics): sqrt(sum 1/k^2 for k = 2..K).
    struct row {
        std::size_t last;
        double thd;
    };
    const auto r =
        GENERATE(row{2, 0.5}, row{5, 0.680889941}, row{10, 0.741463237}, row{40, 0.787555689});
    const double hz = GENERATE(65.41, 110.0, 261.63);
    CAPTURE(r.last, hz);
    const auto frames = track_envelope(note(hz, r.last, saw_line, 0.3, steady), rate, {hertz{hz}});
    REQUIRE(frames);
    // 0.01 dB: the bound that the header states.
    CHECK_THAT(middle(*frames).brightness.value(), WithinAbs(20 * std::log10(r.thd), 0.01));
}

TEST_CASE("envelope: level is the rms and fundamental the peak of the first harmonic",
          "[analysis][envelope]") {
    const auto square_line = [](std::size_t k) {
        return k % 2 == 1 ? 4 / (std::numbers::pi * static_cast<double>(k)) : 0.0;
    };
    const auto frames = track_envelope(note(110.0, 99, square_line, 0.3, steady), rate, {110_Hz});
    REQUIRE(frames);
    double power = 0.0;
    for (std::size_t k = 1; k <= 99; ++k) power += square_line(k) * square_line(k) / 2;
    // A +-1 V square has a fundamental of 4/pi V (Fourier series, standard mathematics); 0.1 % as
    // above.
    CHECK_THAT(middle(*frames).fundamental.value(), WithinAbs(1.273239545, 0.0013));
    CHECK_THAT(middle(*frames).level.value(), WithinAbs(std::sqrt(power), 0.001));
    CHECK_THAT(middle(*frames).pitch.value(), WithinAbs(110.0, 0.001));
}

TEST_CASE("envelope: an exponential decay reads its time constant", "[analysis][envelope]") {
    const double tau = GENERATE(0.06, 0.2, 1.0, 3.5);
    const double hz = GENERATE(82.41, 220.0);
    CAPTURE(tau, hz);
    const auto x = note(hz, 20, saw_line, 0.6, [&](double t) { return std::exp(-t / tau); });
    const auto frames = track_envelope(x, rate, {hertz{hz}});
    REQUIRE(frames);
    const auto level = measure_decay(*frames, 0.05_s, 0.5_s, envelope_track::level);
    REQUIRE(level);
    // 0.1 %: what is left of the images; the decay itself is exact, as the window only scales it.
    CHECK_THAT(level->time_constant.value(), WithinAbs(tau, 0.001 * tau));
    // Lines of two-cycle windows lean on each other a little when the sound shrinks within a
    // window.
    CHECK(level->fit_residual.value() < 0.1);
    const auto fundamental = measure_decay(*frames, 0.05_s, 0.5_s, envelope_track::fundamental);
    REQUIRE(fundamental);
    CHECK_THAT(fundamental->time_constant.value(), WithinAbs(tau, 0.001 * tau));
    CHECK_FALSE(measure_decay(*frames, 0.05_s, 0.5_s, envelope_track::brightness));
}

TEST_CASE("envelope: a fall of 60 dB takes 6.907755 time constants", "[analysis][envelope]") {
    // ln 1000 = 6.907755 (standard mathematics; the reverberation time's definition).
    std::vector<envelope_frame> frames;
    for (int i = 0; i <= 100; ++i) {
        const double t = 0.01 * i;
        frames.push_back(
            {seconds{t}, 110_Hz, volts{std::pow(10.0, -60.0 * t / 20.0)}, volts{1.0}, 0_dB});
    }
    const auto decay = measure_decay(frames, 0_s, 1_s, envelope_track::level);
    REQUIRE(decay);
    CHECK_THAT(1.0 / decay->time_constant.value(), WithinAbs(6.907755, 1e-6));
    CHECK_THAT(decay->level_at_start.value(), WithinAbs(1.0, 1e-9));
}

TEST_CASE("envelope: the stated uncertainty of a decay covers its error", "[analysis][envelope]") {
    int inside = 0;
    constexpr int trials = 60;
    for (unsigned seed = 0; seed < trials; ++seed) {
        auto x = note(110.0, 5, saw_line, 0.5, [](double t) { return std::exp(-t / 0.5); });
        add_noise(x, 0.02, seed);
        const auto frames = track_envelope(x, rate, {110_Hz});
        REQUIRE(frames);
        const auto decay = measure_decay(*frames, 0.05_s, 0.45_s, envelope_track::level);
        REQUIRE(decay);
        inside +=
            std::abs(decay->time_constant.value() - 0.5) <= 2.0 * decay->u_time_constant.value();
    }
    // Two standard uncertainties hold 95 %; of 60 trials 50 or more with probability 0.999.
    CHECK(inside >= 50);
}

TEST_CASE("envelope: the attack of a one-pole rise takes 2.197225 time constants",
          "[analysis][envelope]") {
    const double tau = GENERATE(0.001, 0.003, 0.008);
    const double hz = GENERATE(82.41, 196.0);
    const double start = GENERATE(0.0500, 0.0531, 0.0577);
    CAPTURE(tau, hz, start);
    const auto gain = [&](double t) {
        return t < start ? 0.0 : 1.0 - std::exp(-(t - start) / tau);
    };
    auto x = note(hz, 30, saw_line, 0.4, gain);
    add_noise(x, 0.0003, 7);
    const auto attack = measure_attack(x, rate, hertz{hz}, 0.05_s);
    REQUIRE(attack);
    // ln 9 = 2.197224577 (10 to 90 % of 1 - exp(-t/tau), standard mathematics); bounds as the
    // header states.
    CHECK_THAT(attack->rise_10_90.value(),
               WithinAbs(2.197224577 * tau, std::max(0.1 * 2.2 * tau, 0.0005)));
    CHECK_THAT(attack->onset.value(),
               WithinAbs(start, std::max(0.0006, 2.0 * attack->u_onset.value())));
}

TEST_CASE("envelope: the attack's peak is the largest magnitude", "[analysis][envelope]") {
    const auto x = note(100.0, 1, saw_line, 0.4, [](double t) { return t < 0.05 ? 0.0 : 0.8; });
    const auto attack = measure_attack(x, rate, 100_Hz, 0.05_s);
    REQUIRE(attack);
    CHECK_THAT(attack->peak.value(), WithinAbs(0.8, 1e-3));
    CHECK(attack->rise_10_90.value() < 0.0006);
}

TEST_CASE("envelope: bad records and requests are refused by name", "[analysis][envelope]") {
    const std::vector<double> silence(24000, 0.0);
    const auto x = note(110.0, 5, saw_line, 0.5, steady);
    auto broken = x;
    broken[100] = std::numeric_limits<double>::quiet_NaN();
    CHECK(track_envelope(silence, rate, {110_Hz}).error() == refusal::silent);
    CHECK(track_envelope(std::span{x}.first(1200), rate, {110_Hz}).error() == refusal::too_short);
    CHECK(track_envelope(broken, rate, {110_Hz}).error() == refusal::not_finite);
    CHECK(track_envelope(x, rate, {5000_Hz}).error() == refusal::bad_argument);
    CHECK(track_envelope(x, rate, {110_Hz, 0_s}).error() == refusal::bad_argument);
    CHECK(measure_attack(x, rate, 110_Hz, 0.1_s).error() == refusal::no_fit);
    CHECK(measure_attack(silence, rate, 110_Hz, 0.1_s).error() == refusal::silent);
    CHECK(measure_attack(x, rate, 110_Hz, 0.48_s).error() == refusal::too_short);
    CHECK(measure_attack(x, rate, 110_Hz, 0_s).error() == refusal::bad_argument);
    CHECK(measure_attack(broken, rate, 110_Hz, 0.1_s).error() == refusal::not_finite);
    CHECK(measure_decay({}, 0_s, 1_s, envelope_track::level).error() == refusal::too_short);
}

TEST_CASE("envelope: gain moves the level by its decibels and nothing else",
          "[analysis][envelope]") {
    auto x = note(110.0, 12, saw_line, 0.3, [](double t) { return std::exp(-t); });
    const auto before = track_envelope(x, rate, {110_Hz});
    for (double& v : x) v *= -2.0;
    const auto after = track_envelope(x, rate, {110_Hz});
    REQUIRE(before);
    REQUIRE(after);
    REQUIRE(before->size() == after->size());
    for (std::size_t i = 0; i < before->size(); ++i) {
        CHECK_THAT((*after)[i].level.value(), WithinAbs(2.0 * (*before)[i].level.value(), 1e-9));
        CHECK_THAT((*after)[i].brightness.value(),
                   WithinAbs((*before)[i].brightness.value(), 1e-9));
    }
}
