#include <rapidcheck.h>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "analysis/loop_sequence.hpp"
#include "tests/support/signal_path.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;
using analysis::loop_sequence;
using analysis::read_loop;
using analysis::refusal;
using Catch::Matchers::WithinAbs;

constexpr sample_rate rate{48000.0};
constexpr std::size_t first = 4242;
constexpr std::size_t sent = 48000;
constexpr double converter_cutoff = 0.45;  // common practice for audio converters, no source

std::vector<float> heard(double delay, double gain = 1.0, double cutoff = converter_cutoff,
                         double step = 1.0, std::size_t samples = sent) {
    const auto s = loop_sequence(samples, first);
    const auto count = static_cast<std::size_t>(static_cast<double>(samples) / step + delay) + 5000;
    auto out = band_limited(s, count, delay, step, cutoff);
    for (float& v : out) v *= static_cast<float>(gain);
    return out;
}

analysis::loop_reading read(const std::vector<float>& x, double amplitude = 1.0,
                            std::size_t samples = sent) {
    const auto r = read_loop(x, amplitude, samples, first);
    REQUIRE(r);
    return *r;
}

}  // namespace

TEST_CASE("a straight cable is read to rounding error", "[analysis][loop]") {
    std::vector<float> x(300, 0.0F);
    for (const float v : loop_sequence(sent, first)) x.push_back(0.5F * v);
    x.resize(x.size() + 300);
    const auto r = read(x, 0.5);
    CHECK(r.breaks.empty());
    // Floats have 24 bits; the fit averages thousands of them.
    CHECK_THAT(r.latency_samples, WithinAbs(300.0, 1e-4));
    CHECK_THAT(r.gain, WithinAbs(1.0, 1e-4));
    CHECK_THAT(r.offset, WithinAbs(0.0, 1e-4));
    CHECK_THAT(r.rate_error, WithinAbs(0.0, 1e-9));
}

TEST_CASE("the loop is read through a converter's filters at any gain and delay",
          "[analysis][loop]") {
    for (const double gain : {0.01, 1.0, 2.0, -1.0}) {
        for (const double delay : {100.0, 2560.37, 300.5, 77.9}) {
            CAPTURE(gain, delay);
            const auto r = read(heard(delay, gain));
            CHECK(r.breaks.empty());
            // A thousandth of a sample: far below what any check needs.
            CHECK_THAT(r.latency_samples, WithinAbs(delay, 1e-3));
            CHECK_THAT(r.gain / gain, WithinAbs(1.0, 0.005));
            CHECK_THAT(r.rate_error, WithinAbs(0.0, 1e-7));
        }
    }
}

TEST_CASE("a reading's uncertainty covers the truth", "[analysis][loop]") {
    int latency_inside = 0, gain_inside = 0, rate_inside = 0;
    constexpr int trials = 40;
    for (int i = 0; i < trials; ++i) {
        const double delay = 200.0 + 0.1 * i;
        auto x = heard(delay, 0.8, converter_cutoff, 1.0, 24000);
        add_noise(x, 0.02 * (1 + i % 40), static_cast<std::uint64_t>(i) + 1);
        const auto r = read(x, 1.0, 24000);
        CHECK(r.breaks.empty());
        latency_inside += std::abs(r.latency_samples - delay) <= 2 * r.u_latency_samples;
        gain_inside += std::abs(r.gain - 0.8) <= 2 * r.u_gain;
        rate_inside += std::abs(r.rate_error) <= 2 * r.u_rate_error;
    }
    // 95 % of 40 is 38; fewer than 33 happens by chance once in 2000 (binomial).
    CHECK(latency_inside >= 33);
    CHECK(gain_inside >= 33);
    CHECK(rate_inside >= 33);
}

TEST_CASE("hum, offset, a coupling capacitor and noise as loud as the sequence do no harm",
          "[analysis][loop]") {
    auto x = heard(700.2);
    SECTION("hum ten times as large") {
        add_sine(x, 10.0, hertz{50.0}, rate);
    }
    SECTION("offset") {
        for (float& v : x) v += 3.0F;
        CHECK_THAT(read(x).offset, WithinAbs(3.0, 0.01));
    }
    SECTION("coupling capacitor") {
        couple_by_capacitor(x, hertz{20.0}, rate);
    }
    SECTION("noise at 0 dB") {
        add_noise(x, 1.0, 5);
        CHECK_THAT(read(x).noise_rms, WithinAbs(1.0, 0.03));
    }
    SECTION("clipping at half the height") {
        clip(x, 0.5);
    }
    const auto r = read(x);
    CHECK(r.breaks.empty());
    // Noise at 0 dB leaves 0.007 samples; clipping is not symmetrical about a fractional delay.
    CHECK_THAT(r.latency_samples, WithinAbs(700.2, 0.2));
}

TEST_CASE("two clocks are told from lost samples", "[analysis][loop]") {
    for (const double ppm : {100.0, -100.0}) {
        CAPTURE(ppm);
        auto x = heard(700.2, 1.0, converter_cutoff, 1.0 + ppm * 1e-6, 96000);
        add_noise(x, 0.1, 3);
        const auto r = read(x, 1.0, 96000);
        CHECK(r.breaks.empty());
        CHECK_THAT(r.rate_error, WithinAbs(-ppm * 1e-6, 0.5e-6));
    }
}

TEST_CASE("playing at 44.1 kHz and recording at 48 kHz is seen, and the other way round",
          "[analysis][loop]") {
    const double ratio = GENERATE(44.1 / 48.0, 48.0 / 44.1);
    const auto r = read(heard(700.2, 1.0, 0.4, ratio));
    CHECK(r.breaks.empty());
    CHECK_THAT(r.rate_error, WithinAbs(1.0 - ratio, 1e-6));
    CHECK_THAT(r.latency_samples, WithinAbs(700.2, 0.05));
}

TEST_CASE("lost and repeated samples are counted and located", "[analysis][loop]") {
    const bool holds = rc::check("one break at any place", [] {
        const auto lost = *rc::gen::element(1, 2, 3, 7, 16, 33, 64, 256, 1024, 12000, -1, -2, -5,
                                            -17, -64, -256, -4096);
        const auto at = *rc::gen::inRange<std::size_t>(6000, 34000);
        const double noise = *rc::gen::element(0.0, 0.1, 0.5);
        auto x = with_slips(heard(500.3), std::vector<slip>{{at, lost}});
        add_noise(x, noise, at);
        const auto r = read_loop(x, 1.0, sent, first);
        RC_ASSERT(r.has_value());
        RC_ASSERT(r->breaks.size() == 1);
        RC_ASSERT(r->breaks[0].lost_samples == lost);
        const auto off =
            std::abs(static_cast<double>(r->breaks[0].at_sample) - static_cast<double>(at));
        // Half the samples of two stretches of a sequence agree by chance, so the place is known to
        // some samples; small shifts through a converter's filter look alike for longer.
        RC_ASSERT(off <= 40.0);
        RC_ASSERT(std::abs(r->latency_samples - 500.3) < 0.05);
    });
    CHECK(holds);
}

TEST_CASE("several breaks are told one by one", "[analysis][loop]") {
    const std::vector<slip> slips{{8000, 1}, {15000, -256}, {24000, 48}, {32000, -1}, {40000, 300}};
    const auto r = read(with_slips(heard(500.3), slips));
    REQUIRE(r.breaks.size() == slips.size());
    for (std::size_t i = 0; i < slips.size(); ++i) {
        CHECK(r.breaks[i].lost_samples == slips[i].lost);
        CHECK_THAT(static_cast<double>(r.breaks[i].at_sample),
                   WithinAbs(static_cast<double>(slips[i].at), 8.0));
    }
}

TEST_CASE("48000 samples lost or repeated are found again", "[analysis][loop]") {
    const std::ptrdiff_t lost = GENERATE(48000, -48000);
    const auto x = heard(500.3, 1.0, converter_cutoff, 1.0, 144000);
    const auto r = read(with_slips(x, std::vector<slip>{{60000, lost}}), 1.0, 144000);
    REQUIRE_FALSE(r.breaks.empty());
    CHECK(r.breaks[0].lost_samples == lost);
    CHECK_THAT(static_cast<double>(r.breaks[0].at_sample), WithinAbs(60000.0, 8.0));
}

TEST_CASE("a stretch of silence is told from lost samples", "[analysis][loop]") {
    const std::size_t length = GENERATE(64U, 256U, 20000U);
    auto x = heard(500.3);
    std::fill_n(x.begin() + 15000, length, 0.0F);
    const auto r = read(x);
    REQUIRE(r.breaks.size() == 1);
    CHECK(r.breaks[0].lost_samples == 0);
    CHECK_THAT(static_cast<double>(r.breaks[0].unreadable_samples),
               WithinAbs(static_cast<double>(length), 8.0));
    CHECK_THAT(static_cast<double>(r.breaks[0].at_sample), WithinAbs(15000.0, 8.0));
}

TEST_CASE("a record that begins late, ends early or falls silent says so", "[analysis][loop]") {
    auto x = heard(500.3);
    SECTION("late") {
        std::fill_n(x.begin(), 20000, 0.0F);
    }
    SECTION("early") {
        x.resize(30000);
    }
    SECTION("silent to the end") {
        std::fill(x.begin() + 30000, x.end(), 0.0F);
    }
    const auto r = read(x);
    REQUIRE(r.breaks.size() == 1);
    CHECK(r.breaks[0].unreadable_samples + static_cast<std::size_t>(r.breaks[0].lost_samples) >
          10000);
}

TEST_CASE("a record without the sequence is refused", "[analysis][loop]") {
    std::vector<float> x(sent, 0.0F);
    CHECK(read_loop(x, 1.0, sent).error() == refusal::silent);
    CHECK(read_loop(std::vector<float>(500, 0.1F), 1.0, 500).error() == refusal::too_short);
    CHECK(read_loop(x, 0.0, sent).error() == refusal::bad_argument);
    SECTION("noise") {
        add_noise(x, 1.0, 77);
        CHECK(read_loop(x, 1.0, sent).error() == refusal::no_fit);
    }
    SECTION("a tone") {
        add_sine(x, 1.0, hertz{440.0}, rate);
        CHECK(read_loop(x, 1.0, sent).error() == refusal::no_fit);
    }
    SECTION("another part of the sequence") {
        for (std::size_t i = 1; i < 8; ++i) {
            const auto other = loop_sequence(sent, first + i * 10000000);
            const auto r = read_loop(other, 1.0, sent, first);
            REQUIRE_FALSE(r);
            CHECK(r.error() == refusal::no_fit);
        }
    }
    SECTION("not a number") {
        x[100] = NAN;
        CHECK(read_loop(x, 1.0, sent).error() == refusal::not_finite);
    }
}
