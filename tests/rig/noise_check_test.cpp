#include "rig/checks/noise.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "analysis/noise_floor.hpp"
#include "tests/rig/demo_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

const run_filter noise_alone{.checks = {"noise"}, .settings = {}};

check_result judged(unsigned unit, const std::string& fault, double rate_hz = 48000.0) {
    demo_desk on;
    on.desk.program.rate = sample_rate{rate_hz};
    ferrule_link to_module{unit, fault};
    return on.judged(to_module, noise_alone);
}

double dbu_of(double rms_volts) {
    return 20.0 * std::log10(rms_volts / std::sqrt(0.6));
}

}  // namespace

TEST_CASE("noise check: the demo's hiss reads as its closed form", "[checks][noise]") {
    // 0.1 mV rms of white noise up to half the rate, of which 20 Hz to 20 kHz is heard.
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    const unsigned unit = GENERATE(1U, 7U);
    CAPTURE(rate, unit);
    const auto result = judged(unit, "", rate);
    CHECK(result.outcome() == verdict::pass);
    CHECK(result.attempts == 1);
    const auto& floor = *finding_of(result, "floor").measured;
    CHECK_THAT(floor.value, WithinAbs(dbu_of(1e-4 * std::sqrt(19980.0 / (rate / 2.0))),
                                      3.0 * floor.standard_uncertainty));
    CHECK(floor.largest() != nullptr);
    CHECK(finding_of(result, "weighted floor").measured->value < floor.value - 1.0);
    CHECK(result.plots.size() == 1);
}

TEST_CASE("noise check: each fault fails the demand that is about it", "[checks][noise]") {
    struct row {
        const char* fault;
        const char* key;
        double read;  // in the key's base unit
        const char* at;
    };
    // Noise adds by its power, of which 19.98 of 24 kHz are heard; a line of 1 mV peak; 0.1 %.
    const auto r =
        GENERATE(row{"output-noise:0.001", "floor", dbu_of(std::sqrt(1.01e-6 * 19.98 / 24.0)), ""},
                 row{"output-noise:0.001", "weighted floor", 0.0, ""},
                 row{"mains-hum:0.001", "mains", -60.79, "50.07 Hz"},
                 row{"led-tone:0.001", "idle tone", -60.79, "976.6 Hz"},
                 row{"block-tone:0.001", "idle tone", -60.79, "2000.0 Hz, 1 times the block rate"},
                 row{"cv-bleed:0.1", "bleed", -60.0, "pitch into"});
    CAPTURE(r.fault, r.key);
    const auto result = judged(4, r.fault);
    const auto& f = finding_of(result, r.key);
    CHECK(f.outcome == verdict::fail);
    REQUIRE(f.measured);
    CHECK_THAT(f.measured->at, Contains(r.at));
    if (r.read != 0.0)
        CHECK_THAT(f.measured->value,
                   WithinAbs(r.read, 3.0 * f.measured->standard_uncertainty + 0.01));
}

TEST_CASE("noise check: every jack but the gate is swung, and named", "[checks][noise]") {
    const auto result = judged(1, "");
    const auto& f = finding_of(result, "bleed");
    CHECK(f.all.size() == 2 * 5);
    for (const char* jack : {"pitch", "accent", "slide", "cutoff"})
        CHECK(std::ranges::any_of(
            f.all, [&](const reading& r) { return r.at.find(jack) != std::string::npos; }));
}

TEST_CASE("noise check: the silence of an output that is not plugged in never passes",
          "[checks][noise]") {
    const double rms_volts = GENERATE(0.0, 1e-5, 1e-3);
    CAPTURE(rms_volts);
    noise_only nothing{rms_volts};
    const auto result = demo_desk{}.judged(nothing, noise_alone);
    CHECK(result.findings.size() == 5);
    for (const auto& f : result.findings) {
        CAPTURE(f.name);
        CHECK(f.outcome == verdict::unsure);
        CHECK_THAT(f.reason, Contains("No note sounds at"));
    }
}

TEST_CASE("noise check: loud hiss leaves tones open, and is not taken for one", "[checks][noise]") {
    const auto result = judged(2, "output-noise:0.03");
    CHECK(finding_of(result, "floor").outcome == verdict::fail);
    for (const char* key : {"mains", "idle tone"}) {
        CHECK(finding_of(result, key).outcome == verdict::unsure);
        CHECK_THAT(finding_of(result, key).reason, Contains("stands out of the noise"));
    }
}

TEST_CASE("noise check: a gate that sticks is no silence", "[checks][noise]") {
    const auto result = judged(1, "gate-stuck:60000");
    CHECK(finding_of(result, "floor").outcome == verdict::fail);
}

TEST_CASE("noise check: the demo's takes little sound, and longer when taken again",
          "[checks][noise]") {
    const demo_desk on;
    CHECK(plan_run(on.module, on.desk, noise_alone).sound().value() < 6.5);
    const auto& wanted = *std::ranges::find(on.module.checks, "noise", &check_expectation::name);
    const auto sound = [&](int attempt) {
        const check_request request{on.module, on.desk, wanted, wanted.in.front(), attempt};
        double length_s = 0.0;
        for (const auto& p : noise_check().plan(request))
            for (const auto& s : p.steps) length_s += s.length.value();
        return length_s;
    };
    CHECK(sound(2) > 1.3 * sound(1));
}
