#include "analysis/slide_share.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

namespace {

struct tied_saws {
    hertz from, to;
    double share{1.0};             ///< of the slide that is made
    seconds time_constant{22_ms};  ///< it really has
    seconds late{0.0};
    cents detuned_before{0.0}, detuned_behind{0.0};
    double noise{0.0};
    double clip_at{10.0};
    sample_rate rate{48000.0};
    seconds before{0.06}, behind{0.09};
};

// Ten harmonics of 1 / k; the phase is integrated sample by sample, so that it runs on.
std::vector<double> sound_of(const tied_saws& s) {
    const auto border = static_cast<std::size_t>(s.before.value() * s.rate.value());
    const auto count = border + static_cast<std::size_t>(s.behind.value() * s.rate.value());
    const double octaves = std::log2(s.from / s.to);
    std::mt19937 random{5};
    std::normal_distribution<double> hiss{0.0, 1.0};
    std::vector<double> out;
    double cycles = 0.3;
    for (std::size_t i = 0; i < count; ++i) {
        const double t = (static_cast<double>(i) - static_cast<double>(border)) / s.rate.value() -
                         s.late.value();
        const bool is_behind = t >= 0.0;
        const double left = s.share * std::exp(-std::max(t, 0.0) / s.time_constant.value());
        const double pitch =
            is_behind ? s.to.value() * std::exp2(octaves * left + s.detuned_behind.value() / 1200.0)
                      : s.from.value() * std::exp2(s.detuned_before.value() / 1200.0);
        double v = 0.0;
        for (int k = 1; k <= 10; ++k) v += std::sin(2.0 * std::numbers::pi * k * cycles) / k;
        out.push_back(std::clamp(v, -s.clip_at, s.clip_at) + s.noise * hiss(random));
        cycles += pitch / s.rate.value();
    }
    return out;
}

outcome<slide_share_reading> read(const tied_saws& s) {
    return read_slide_share(sound_of(s), s.rate,
                            {{s.from, s.from, 22_ms, 0_s},
                             static_cast<std::size_t>(s.before.value() * s.rate.value()),
                             s.to,
                             22_ms});
}

hertz up(hertz pitch, double semitones) {
    return pitch * std::exp2(semitones / 12.0);
}

}  // namespace

TEST_CASE("slide share: a whole slide is 1 and a jump 0, over every small interval",
          "[analysis][slide]") {
    double worst = 0.0;
    for (const double lowest : {98.0, 130.8, 261.6, 523.3})
        for (const double semitones : {-7.0, -4.0, -2.0, -1.0, 1.0, 2.0, 4.0, 7.0})
            for (const double share : {0.0, 0.5, 1.0}) {
                const hertz from{lowest};
                const auto r = read({.from = from, .to = up(from, semitones), .share = share});
                CAPTURE(lowest, semitones, share);
                REQUIRE(r);
                // A window in which the pitch moves far is not linear in the share.
                const double most = std::abs(semitones) < 4.5 ? 0.06 : 0.25;
                CHECK_THAT(r->share, WithinAbs(share, most));
                CHECK(r->power_share > 0.4);
                worst = std::max(worst, std::abs(r->share - share) / most);
            }
    INFO("worst error " << worst << " of what is allowed");
    CHECK(worst < 1.0);
}

TEST_CASE("slide share: how far a slide falls behind a jump is algebra", "[analysis][slide]") {
    // Small intervals: from / to = 1 + e makes a slide run ahead by to * ln(1 + e) * time constant
    // cycles, less what is left of it after 90 ms.
    const auto r = read({.from = hertz{200.0}, .to = hertz{199.0}});
    REQUIRE(r);
    const double expected =
        199.0 * std::log(200.0 / 199.0) * 0.022 * (1.0 - std::exp(-0.09 / 0.022));
    CHECK_THAT(r->whole_cycles, WithinAbs(expected, 0.01 * expected));
}

TEST_CASE("slide share: two notes out of tune differently are read all the same",
          "[analysis][slide]") {
    for (const double share : {0.0, 1.0}) {
        const auto r = read({.from = 220_Hz,
                             .to = up(220_Hz, 2.0),
                             .share = share,
                             .detuned_before = cents{8.0},
                             .detuned_behind = cents{-6.0}});
        REQUIRE(r);
        CHECK_THAT(r->share, WithinAbs(share, 0.06));
    }
}

TEST_CASE("slide share: a late module reads more by its share of the time constant",
          "[analysis][slide]") {
    double last = 0.0;
    for (const double late_ms : {1.0, 2.0, 4.0}) {
        const auto r =
            read({.from = 220_Hz, .to = up(220_Hz, 3.0), .share = 0.0, .late = late_ms * 1_ms});
        REQUIRE(r);
        CAPTURE(late_ms);
        CHECK(r->share > last);
        CHECK_THAT(r->share, WithinAbs(late_ms / 22.0, 0.1));
        last = r->share;
    }
}

TEST_CASE("slide share: a time constant a fifth off leaves the answer clear", "[analysis][slide]") {
    for (const double factor : {0.8, 1.2}) {
        const auto r = read({.from = 220_Hz,
                             .to = up(220_Hz, -3.0),
                             .share = 1.0,
                             .time_constant = factor * 22_ms});
        REQUIRE(r);
        CHECK(r->share > 0.7);
        CHECK(r->share < 1.3);
    }
}

TEST_CASE("slide share: noise is in the uncertainty, clipping does not matter",
          "[analysis][slide]") {
    const auto quiet = read({.from = 220_Hz, .to = up(220_Hz, 1.0), .share = 1.0});
    const auto noisy = read({.from = 220_Hz, .to = up(220_Hz, 1.0), .share = 1.0, .noise = 0.2});
    const auto clipped =
        read({.from = 220_Hz, .to = up(220_Hz, 1.0), .share = 1.0, .clip_at = 0.8});
    REQUIRE(quiet);
    REQUIRE(noisy);
    REQUIRE(clipped);
    CHECK(noisy->u_share > 2.0 * quiet->u_share);
    CHECK_THAT(noisy->share, WithinAbs(1.0, 0.06 + 3.0 * noisy->u_share));
    CHECK_THAT(clipped->share, WithinAbs(1.0, 0.06));
}

TEST_CASE("slide share: every sample rate gives the same", "[analysis][slide]") {
    const double rate = GENERATE(44100.0, 96000.0, 192000.0);
    const auto here =
        read({.from = 220_Hz, .to = up(220_Hz, 2.0), .share = 0.3, .rate = sample_rate{rate}});
    const auto at_48k = read({.from = 220_Hz, .to = up(220_Hz, 2.0), .share = 0.3});
    REQUIRE(here);
    REQUIRE(at_48k);
    CHECK_THAT(here->share, WithinAbs(at_48k->share, 0.005));
}

TEST_CASE("slide share: what cannot be read is refused by name", "[analysis][slide]") {
    const tied_saws good{.from = 220_Hz, .to = 247_Hz};
    auto sound = sound_of(good);
    const tied_notes notes{{220_Hz, 220_Hz, 22_ms, 0_s}, 2880, 247_Hz, 22_ms};
    const auto refusal_of = [](const auto& r) {
        REQUIRE_FALSE(r);
        return r.error();
    };
    const auto with = [&](auto change) {
        auto n = notes;
        change(n);
        return refusal_of(read_slide_share(sound, good.rate, n));
    };
    CHECK(with([](auto& n) { n.to = 0_Hz; }) == refusal::bad_argument);
    CHECK(with([](auto& n) { n.to = 220_Hz; }) == refusal::bad_argument);
    CHECK(with([](auto& n) { n.to = 880_Hz; }) == refusal::bad_argument);
    CHECK(with([](auto& n) { n.time_constant = 0_s; }) == refusal::bad_argument);
    CHECK(with([](auto& n) { n.border = 100; }) == refusal::too_short);
    CHECK(with([](auto& n) { n.border = 1'000'000; }) == refusal::too_short);
    CHECK(with([](auto& n) { n.time_constant = 60_ms; }) == refusal::too_short);
    sound[77] = NAN;
    CHECK(refusal_of(read_slide_share(sound, good.rate, notes)) == refusal::not_finite);
    const std::vector<double> nothing(7200, 0.5);
    CHECK(refusal_of(read_slide_share(nothing, good.rate, notes)) == refusal::silent);
}
