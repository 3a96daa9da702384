#include "analysis/note_edge.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <functional>

#include "tests/analysis/synthesis.hpp"
#include "tests/support/aubio_onset.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

namespace {

constexpr double pitch_hz = 1046.5;

struct made_note {
    double rate_hz{48000.0};
    double starts_s{0.0105};  // between two samples
    double attack_s{0.003};
    bool exponential{false};
    double release_s{0.008};
    double ends_s{0.045};
    double noise_volts{0.0};
    double phase_samples{0.0};
    unsigned long long seed{1};
};

double level_at(const made_note& n, double t) {
    if (t <= n.starts_s) return 0.0;
    const double u = (t - n.starts_s) / n.attack_s;
    const double up = n.exponential ? 1.0 - std::exp(-u) : std::min(u, 1.0);
    return t <= n.ends_s ? up : up * std::exp(-(t - n.ends_s) / n.release_s);
}

// A saw of 3 V rms-ish that runs on whatever the note does, as an oscillator does.
std::vector<double> voltage_of(const made_note& n) {
    const auto samples = static_cast<std::size_t>(0.1 * n.rate_hz);
    const auto count = static_cast<std::size_t>(0.42 * n.rate_hz / pitch_hz);
    auto x = synthesis::scaled(synthesis::additive(synthesis::sawtooth(count), pitch_hz, n.rate_hz,
                                                   samples, n.phase_samples),
                               3.0);
    for (std::size_t i = 0; i < samples; ++i)
        x[i] *= level_at(n, static_cast<double>(i) / n.rate_hz);
    return synthesis::sum(x, synthesis::noise(samples, n.noise_volts, n.seed));
}

std::vector<double> silence_of(const made_note& n) {
    return synthesis::noise(4800, n.noise_volts, n.seed + 99);
}

outcome<note_edge> start_of(const made_note& n) {
    return measure_note_start(voltage_of(n), silence_of(n), sample_rate{n.rate_hz},
                              {hertz{pitch_hz * 1.001}, 2_ms, seconds{n.ends_s}, 0_s});
}

outcome<note_edge> end_of(const made_note& n) {
    return measure_note_end(
        voltage_of(n), silence_of(n), sample_rate{n.rate_hz},
        {hertz{pitch_hz * 1.001}, seconds{n.starts_s + 0.012}, 90_ms, seconds{n.ends_s - 0.002}});
}

}  // namespace

TEST_CASE("note edge: an exact straight attack is read to a thousandth of a sample at every rate",
          "[analysis][note_edge]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    const double attack = GENERATE(0.001, 0.003, 0.010);
    CAPTURE(rate, attack);
    made_note n;
    n.rate_hz = rate;
    n.attack_s = attack;
    const auto edge = start_of(n);
    REQUIRE(edge);
    CHECK(edge->shape == edge_shape::straight);
    // What stays is the harmonic fit's own rounding and the fit's end of search.
    CHECK_THAT(edge->at.value() * rate, WithinAbs(n.starts_s * rate, 0.02));
    CHECK_THAT(edge->time.value(), WithinAbs(attack, 1e-3 * attack));
}

TEST_CASE("note edge: slow attacks are read as early as fast ones, at any phase and noise",
          "[analysis][note_edge]") {
    // Bias and scatter over the phases of the oscillator; worst cases are printed.
    const double attack = GENERATE(0.0001, 0.0003, 0.001, 0.003, 0.010);
    const double snr_db = GENERATE(40.0, 60.0, 80.0);
    made_note n;
    n.attack_s = attack;
    n.noise_volts = 1.73 * std::pow(10.0, -snr_db / 20.0);
    double bias = 0.0;
    double outside = 0.0;
    constexpr int trials = 40;
    for (int i = 0; i < trials; ++i) {
        n.phase_samples = 1.17 * i;
        n.starts_s = 0.0105 + 0.37e-6 * i;
        n.seed = static_cast<unsigned long long>(i) + 1;
        const auto edge = start_of(n);
        REQUIRE(edge);
        const double error = edge->at.value() - n.starts_s;
        bias += error / trials;
        if (std::abs(error) > 2.0 * edge->u_at.value()) outside += 1.0;
    }
    CAPTURE(attack, snr_db, bias, outside);
    // As the header states, and three standard deviations of the mean at 40 dB: some 0.3 % of the
    // attack over sqrt(40).
    CHECK(std::abs(bias) < std::max(0.2 / n.rate_hz, 0.0015 * attack));
    // A twentieth lies outside, give or take three standard deviations of forty trials.
    CHECK(outside <= 0.05 * trials + 3.0 * std::sqrt(0.05 * 0.95 * trials));
}

TEST_CASE("note edge: an exponential attack is told from a straight one", "[analysis][note_edge]") {
    const double tau = GENERATE(0.0005, 0.001, 0.002);
    made_note n;
    n.exponential = true;
    n.attack_s = tau;
    n.noise_volts = 0.002;
    const auto edge = start_of(n);
    REQUIRE(edge);
    CAPTURE(tau, edge->u_at.value());
    CHECK(edge->shape == edge_shape::exponential);
    CHECK_THAT(edge->at.value(), WithinAbs(n.starts_s, 0.02 * tau));
    // The cycle that stands for the note is itself still 3 % short of it.
    CHECK_THAT(edge->time.value(), WithinAbs(tau, 0.05 * tau));
}

TEST_CASE("note edge: a release is read where it begins", "[analysis][note_edge]") {
    const double tau = GENERATE(0.002, 0.008, 0.02);
    made_note n;
    n.release_s = tau;
    n.noise_volts = 0.002;
    double bias = 0.0;
    for (int i = 0; i < 20; ++i) {
        n.phase_samples = 2.3 * i;
        n.seed = static_cast<unsigned long long>(i) + 1;
        const auto edge = end_of(n);
        REQUIRE(edge);
        CHECK(edge->shape == edge_shape::exponential);
        CHECK_THAT(edge->at.value(),
                   WithinAbs(n.ends_s, std::max(0.5 / n.rate_hz, 4.0 * edge->u_at.value())));
        bias += (edge->at.value() - n.ends_s) / 20.0;
    }
    // A release is itself at its end of the held note: half a sample.
    CHECK(std::abs(bias) < 0.5 / n.rate_hz);
}

TEST_CASE("note edge: gain, polarity and delay do what they should", "[analysis][note_edge]") {
    made_note n;
    n.noise_volts = 0.001;
    const auto plain = start_of(n);
    REQUIRE(plain);
    auto x = voltage_of(n);
    const auto silence = silence_of(n);
    const edge_request request{hertz{pitch_hz}, 2_ms, seconds{n.ends_s}, 0_s};
    const auto reversed = measure_note_start(
        synthesis::scaled(x, -2.0), synthesis::scaled(silence, 2.0), sample_rate{48000.0}, request);
    REQUIRE(reversed);
    CHECK_THAT(reversed->at.value(), WithinAbs(plain->at.value(), 1e-7));
    x.insert(x.begin(), 48, 0.0);
    const auto later = measure_note_start(x, silence, sample_rate{48000.0},
                                          {hertz{pitch_hz}, 2_ms, seconds{n.ends_s + 0.001}, 0_s});
    REQUIRE(later);
    CHECK_THAT(later->at.value() - plain->at.value(), WithinAbs(0.001, 1e-6));
}

TEST_CASE("note edge: what is no beginning is refused", "[analysis][note_edge]") {
    const sample_rate rate{48000.0};
    const edge_request request{hertz{pitch_hz}, 2_ms, 45_ms, 0_s};
    const auto hiss = synthesis::noise(4800, 0.01, 3);
    CHECK(measure_note_start(hiss, synthesis::noise(4800, 0.01, 4), rate, request).error() ==
          refusal::silent);
    const std::vector<double> nothing(4800, 0.0);
    CHECK(measure_note_start(nothing, nothing, rate, request).error() == refusal::silent);
    made_note early;
    early.starts_s = 0.0;
    early.attack_s = 0.0005;
    CHECK(start_of(early).error() == refusal::no_fit);
    auto spoiled = voltage_of({});
    spoiled[700] = NAN;
    CHECK(measure_note_start(spoiled, nothing, rate, request).error() == refusal::not_finite);
    CHECK(measure_note_start(voltage_of({}), {}, rate, request).error() == refusal::too_short);
    CHECK(measure_note_start(voltage_of({}), nothing, rate, {hertz{pitch_hz}, 2_ms, 6_ms, 0_s})
              .error() == refusal::too_short);
    CHECK(
        measure_note_start(voltage_of({}), nothing, rate, {hertz{0.0}, 2_ms, 45_ms, 0_s}).error() ==
        refusal::bad_argument);
}

TEST_CASE("note edge: hard-gated tones start where they were cut, and where aubio hears them",
          "[analysis][note_edge]") {
    // aubio places an onset on a grid of its hops, some hops after the fact; its own delay is taken
    // off by aubio_onset, and what is left is stated as two hops of 64 samples (its manual calls
    // the resolution "one hop", and the peak picker moves by one more).
    std::vector<double> x(48000, 0.0);
    const std::vector<double> starts_samples{4800.0, 14411.0, 24007.0, 36533.0};
    const auto saw = synthesis::additive(synthesis::sawtooth(19), pitch_hz, 48000.0, x.size());
    for (const double s : starts_samples)
        for (std::size_t i = 0; i < 4800; ++i)
            x[static_cast<std::size_t>(s) + i] = saw[static_cast<std::size_t>(s) + i];
    x = synthesis::sum(x, synthesis::noise(x.size(), 1e-4, 5));
    const auto heard = test_support::aubio_onsets(x, sample_rate{48000.0});
    for (const double s : starts_samples) {
        const auto edge = measure_note_start(
            x, synthesis::noise(4800, 1e-4, 6), sample_rate{48000.0},
            {hertz{pitch_hz}, seconds{s / 48000.0 - 0.01}, seconds{s / 48000.0 + 0.06}, 0_s});
        REQUIRE(edge);
        CAPTURE(s, edge->at.value() * 48000.0);
        // Somewhere between the last silent sample and the first that sounds.
        CHECK_THAT(edge->at.value() * 48000.0, WithinAbs(s - 0.5, 0.5 + 1e-6));
        const auto nearest = std::ranges::min_element(
            heard, {}, [&](seconds t) { return std::abs(t.value() - edge->at.value()); });
        REQUIRE(nearest != heard.end());
        CHECK_THAT(nearest->value(), WithinAbs(edge->at.value(), 2.0 * 64.0 / 48000.0));
    }
}
