#include "rig/bench/self_test.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "rig/bench/self_test_limits.hpp"
#include "tests/rig/bench/bench_faults.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;

bench_proof examined(const bench& b, const interface_manners& m,
                     self_test_form form = self_test_form::preamble) {
    simulated_interface to{b, m, silent_module(b.inputs.size())};
    return self_test(to, b, form, {}, {});
}

std::string all_faults(const bench_proof& p) {
    std::string out;
    for (const auto& s : faults(p)) out += s + "\n";
    return out;
}

const bench_finding* find(const bench_proof& p, const std::string& name) {
    const auto found = std::ranges::find(p.findings, name, &bench_finding::name);
    return found == p.findings.end() ? nullptr : &*found;
}

}  // namespace

TEST_CASE("a good interface proves itself", "[bench][selftest]") {
    for (std::uint64_t seed = 1; seed <= 12; ++seed) {
        const auto m = good_manners(seed);
        const auto p = examined(desk(), m);
        CAPTURE(seed, all_faults(p));
        CHECK(p.trusted());
        REQUIRE(p.latency);
        // A thousandth of a sample, through any filter and noise of a good interface.
        CHECK(std::abs(p.latency->value() * 48000.0 - m.delay_samples) < 0.005);
    }
}

TEST_CASE("a good interface proves itself at every rate, however late its sound comes back",
          "[bench][selftest]") {
    for (const double rate : {44100.0, 96000.0, 192000.0})
        for (const double latency_s : {0.003, 0.15}) {
            auto b = desk();
            b.audio->rate = sample_rate{rate};
            auto m = good_manners(5);
            m.delay_samples = latency_s * rate;
            m.frames_per_second = rate;
            const auto p = examined(b, m);
            CAPTURE(rate, latency_s, all_faults(p));
            CHECK(p.trusted());
        }
    auto m = good_manners(5);
    m.delay_samples = 0.53 * 48000.0;
    const auto late = examined(desk(), m);
    CAPTURE(all_faults(late));
    REQUIRE(faults(late).size() == 1);
    CHECK(faults(late).front().find("shorten the driver's buffers") != std::string::npos);
}

TEST_CASE("every fault of an interface is named by its own sentence", "[bench][selftest]") {
    for (std::uint64_t seed = 1; seed <= 2; ++seed)
        for (const auto& fault : bench_faults(seed)) {
            const auto p = examined(desk(), fault.manners);
            CAPTURE(seed, fault.name, all_faults(p));
            CHECK_FALSE(p.trusted());
            CHECK(faults(p).size() <= 3);  // one for each channel that it concerns
            const auto* f = find(p, fault.finding);
            REQUIRE(f != nullptr);
            CHECK_FALSE(f->ok);
            CHECK(f->sentence.find(fault.words) != std::string::npos);
        }
}

TEST_CASE("a self-test strikes nothing and keeps to the limits", "[bench][selftest]") {
    for (const auto form : {self_test_form::preamble, self_test_form::thorough}) {
        const auto test = make_self_test(desk(), sample_rate{48000.0}, form);
        for (const auto& channel : test.out.outputs)
            // Designs trip from 0.7 V on (common practice, no source).
            CHECK(std::ranges::all_of(channel, [](float v) { return v >= 0.0F && v < 0.7F; }));
        CHECK(std::ranges::all_of(test.out.loop, [](float v) { return std::abs(v) <= 1.0F; }));
        const double length = static_cast<double>(test.out.size()) / 48000.0;
        CHECK(length <= (form == self_test_form::preamble ? 2.0 : 10.0));
    }
}

TEST_CASE("a result for the report passes or is unsure, but never fails", "[bench][selftest]") {
    auto m = good_manners(1);
    CHECK(as_check_result(examined(desk(), m)).outcome() == verdict::pass);
    m.loop_gain = -1.0;
    CHECK(as_check_result(examined(desk(), m)).outcome() == verdict::unsure);
    CHECK(as_check_result({}).check == "bench");
    CHECK_FALSE(bench_proof{}.trusted());
}

TEST_CASE("without a loop-back cable the rig says what it cannot exclude", "[bench][selftest]") {
    auto b = desk();
    b.loop.reset();
    b.audio->round_trip = seconds{0.012};
    auto m = good_manners(3);
    const auto p = examined(b, m);
    CHECK(p.trusted());
    CHECK(p.cannot_exclude.size() >= 5);
    CHECK(p.latency == seconds{0.012});
    m.foreign_on_inputs = volts{0.1};
    CHECK_FALSE(examined(b, m).trusted());
}

TEST_CASE("a self-test that was stopped proves nothing", "[bench][selftest]") {
    const auto b = desk();
    simulated_interface to{b, good_manners(1), silent_module(2)};
    std::stop_source stop;
    stop.request_stop();
    const auto p = self_test(to, b, self_test_form::preamble, {}, stop.get_token());
    CHECK(p.stopped);
    CHECK_FALSE(p.trusted());
}

TEST_CASE("stated uncertainties of the self-test cover the truth", "[bench][selftest]") {
    int gain = 0, offset = 0, latency = 0, droop = 0;
    constexpr int trials = 40;
    for (std::uint64_t seed = 100; seed < 100 + trials; ++seed) {
        auto m = good_manners(seed);
        m.hum = volts{0.0};
        const auto p = examined(desk(), m);
        const auto inside = [&](const char* name, double truth) {
            const auto* f = find(p, name);
            REQUIRE(f != nullptr);
            return std::abs(f->measured.value - truth) <= 2 * f->measured.standard_uncertainty;
        };
        gain += inside("gain", 100 * m.gain);
        offset += inside("offset", m.loop_offset.value());
        latency += inside("latency", m.delay_samples / 48000.0);
        droop += inside("droop in a second", 0.0);
    }
    // 95 % of 40 is 38; fewer than 33 happens by chance once in 2000 (binomial).
    CHECK(gain >= 33);
    CHECK(offset >= 33);
    CHECK(latency >= 33);
    CHECK(droop >= 33);
}

TEST_CASE("a coupling capacitor is read with its time constant", "[bench][selftest]") {
    for (const double corner_hz : {0.5, 2.0, 10.0}) {
        auto m = good_manners(5);
        m.output_corner = hertz{corner_hz};
        const auto p = examined(desk(), m);
        const auto* f = find(p, "droop in a second");
        REQUIRE(f != nullptr);
        // A first-order high-pass falls by exp(-2 pi f t).
        const double expected = 200.0 * 3.14159265358979 * corner_hz;
        CHECK(std::abs(f->measured.value / expected - 1.0) < 0.02);
    }
}

// A hand-held meter of 0.5 % is good for 0.29 % standard uncertainty of both trims (rectangular, GUM
// 4.3.7), which are one and the same error.
TEST_CASE("a meter's error that both trims share does not spoil the proof of the gain",
          "[bench][selftest]") {
    auto b = desk();
    b.loop->output_trim.u_volts_per_full_scale = 0.0291;
    b.loop->input_trim.u_volts_per_full_scale = 0.0289;
    auto m = good_manners(1);
    m.gain = 1.0;
    CHECK_FALSE(examined(b, m).trusted());
    b.loop->trimmed_as_one = true;
    const auto p = examined(b, m);
    CAPTURE(all_faults(p));
    CHECK(p.trusted());
    // What the output's trim has beyond the input's: sqrt(0.0291^2 - 0.0289^2) / 10 in per cent.
    CHECK(find(p, "gain")->measured.standard_uncertainty >= 0.034);
    m.gain = 0.99;
    CHECK_FALSE(examined(b, m).trusted());
}
