#include "rig/checks/waveform.hpp"

#include <catch2/catch.hpp>

#include "tests/rig/demo_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

run_filter in(const std::string& waveform) {
    return {.checks = {"waveform"}, .settings = {{"mode", "tied"}, {"waveform", waveform}}};
}

check_result judged(unsigned unit, const std::string& fault, const std::string& waveform,
                    double rate_hz = 48000.0) {
    demo_desk on;
    on.desk.program.rate = sample_rate{rate_hz};
    ferrule_link to_module{unit, fault};
    return on.judged(to_module, in(waveform));
}

}  // namespace

TEST_CASE("waveform check: what was built into the module is what is read", "[checks][waveform]") {
    // The demo's blend has half of each wave, its square is high for half of its period.
    struct row {
        const char* wave;
        double share;
    };
    const auto r = GENERATE(row{"saw", 0.0}, row{"blend", 50.0}, row{"square", 100.0});
    const unsigned unit = GENERATE(1U, 7U);
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    CAPTURE(r.wave, unit, rate);
    const auto result = judged(unit, "", r.wave, rate);
    CHECK(result.outcome() == verdict::pass);
    CHECK(result.attempts == 1);
    CHECK(finding_of(result, "wave").answered->text == r.wave);
    const auto& share = *finding_of(result, "square share").measured;
    // The demo smooths its steps by a table, exact to 1e-4 or so.
    CHECK_THAT(share.value, WithinAbs(r.share, 2.0 * share.standard_uncertainty + 0.01));
    CHECK(share.largest() != nullptr);
    if (r.share == 100.0)
        CHECK_THAT(finding_of(result, "duty").measured->value, WithinAbs(50.0, 0.01));
    else
        CHECK(finding_of(result, "duty").outcome == verdict::skipped);
    CHECK(result.plots.size() == 1);
}

TEST_CASE("waveform check: each fault fails the demand that is about it", "[checks][waveform]") {
    struct row {
        const char* fault;
        const char* wave;
        const char* key;
        double read;  // in the key's base unit
    };
    // Even harmonics over odd ones of a square 2 % too wide, of the blend by its shares.
    const auto r = GENERATE(row{"waveform-swapped:20", "saw", "square share", 20.0},
                            row{"waveform-swapped:20", "square", "square share", 80.0},
                            row{"blend-shift:15", "blend", "square share", 65.0},
                            row{"blend-shift:15", "blend", "even-odd balance", -13.469},
                            row{"square-width:2", "square", "duty", 52.0},
                            row{"square-width:-3", "square", "duty", 47.0},
                            row{"square-width:8", "square", "duty", 58.0});
    CAPTURE(r.fault, r.wave, r.key);
    const auto result = judged(4, r.fault, r.wave);
    const auto& f = finding_of(result, r.key);
    CHECK(f.outcome == verdict::fail);
    REQUIRE(f.measured);
    CHECK_THAT(f.measured->value, WithinAbs(r.read, 2.0 * f.measured->standard_uncertainty + 0.01));
}

TEST_CASE("waveform check: a naive wave's aliases are heard", "[checks][waveform]") {
    const auto result = judged(3, "aliasing:1", "saw");
    const auto& f = finding_of(result, "aliases");
    CHECK(f.outcome == verdict::fail);
    // Of a saw at C6 and 48 kHz as much power folds as tests/analysis computes, -16 dB; four poles
    // at some 10 kHz weaken what lies high.
    CHECK(f.measured->value < -15.0);
    CHECK(f.measured->value > -35.0);
    CHECK(f.measured->where);
    CHECK(finding_of(result, "wave").outcome == verdict::pass);
}

TEST_CASE("waveform check: a wrong switch is named in words", "[checks][waveform]") {
    const auto swapped = judged(2, "waveform-swapped:100", "saw");
    CHECK(finding_of(swapped, "wave").outcome == verdict::fail);
    CHECK_THAT(finding_of(swapped, "wave").reason,
               Contains("is square, but the file demands saw."));
    CHECK(finding_of(swapped, "distance").outcome == verdict::fail);
    const auto unread = judged(2, "waveform-unread:1", "square");
    CHECK(finding_of(unread, "wave").outcome == verdict::fail);
    CHECK(finding_of(unread, "duty").outcome == verdict::unsure);
}

TEST_CASE("waveform check: silence and noise never pass", "[checks][waveform]") {
    const double rms_volts = GENERATE(0.0, 1e-3, 1.0);
    CAPTURE(rms_volts);
    noise_only nothing{rms_volts};
    const auto result = demo_desk{}.judged(nothing, in("square"));
    CHECK(result.findings.size() == 6);
    for (const auto& f : result.findings) {
        CAPTURE(f.name);
        CHECK(f.outcome == verdict::unsure);
        CHECK_FALSE(f.reason.empty());
    }
}

TEST_CASE("waveform check: the demo's three waves take little sound", "[checks][waveform]") {
    const demo_desk on;
    CHECK(plan_run(on.module, on.desk, {.checks = {"waveform"}, .settings = {}}).sound().value() <
          3.0);
}
