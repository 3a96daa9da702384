#include "demo/faults.hpp"

#include "demo/user_mistake.hpp"
#include "playing.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <set>

using ferrule::jack;

namespace {

/// Everything that a fault could touch: plain and accented notes, a run of slides of which one
/// interrupts another, a legato step, an accent in a held note, a shallow and a short gate.
ferrule::sound everything() {
    playing::score score{2.6, 22050};
    score.set(jack::pitch, 0.0, 0.1).gate(0.05, 0.35);
    score.set(jack::accent, 0.4, 5.0).gate(0.4, 0.6).set(jack::accent, 0.6, 0.0);
    score.set(jack::accent, 0.65, 5.0).set(jack::pitch, 0.65, 1.0).gate(0.65, 0.8);
    score.set(jack::accent, 0.8, 0.0).gate(0.85, 1.9);
    score.set(jack::slide, 0.95, 5.0).set(jack::pitch, 0.95, 2.5);
    score.set(jack::pitch, 1.15, 1.5).set(jack::pitch, 1.17, 3.5).set(jack::slide, 1.5, 0.0);
    score.set(jack::pitch, 1.55, 4.0).set(jack::accent, 1.7, 5.0).set(jack::accent, 1.85, 0.0);
    score.set(jack::cutoff, 1.3, 1.0).set(jack::cutoff, 1.5, 0.0);
    score.set(jack::gate, 2.0, 2.0).set(jack::gate, 2.2, 0.0).set(jack::pitch, 2.1, 2.0);
    score.gate(2.250, 2.253);
    for (int step = 0; step < 20; ++step) score.set(jack::gate, 2.3 + 0.01 * step, 0.125 * step);
    // A gate that falls to between its two thresholds stays high.
    score.set(jack::cutoff, 2.52, 5.0).set(jack::gate, 2.54, 1.4);
    return score.set(jack::gate, 2.57, 0.0).stimulus();
}

ferrule::module_plan awkward(ferrule::mode mode, ferrule::waveform waveform) {
    // A slow converter is enough to hear whether anything changes, and keeps this quick.
    auto plan = playing::calibrated(4, 22050.0);
    plan.set = {mode, waveform, 0.4, 0.8, 0.4, 0.0};
    return plan;
}

std::vector<std::vector<float>> in_all_ways(const ferrule::sound& stimulus,
                                            const ferrule::fault_set& faults) {
    std::vector<std::vector<float>> heard;
    auto without_cable = awkward(ferrule::mode::struck, ferrule::waveform::blend);
    without_cable.set.cutoff_cable_in = false;
    for (auto plan : {awkward(ferrule::mode::wide, ferrule::waveform::square), without_cable}) {
        plan.faults = faults;
        heard.push_back(ferrule::render(stimulus, plan, {}).samples);
    }
    return heard;
}

}  // namespace

TEST_CASE("every fault changes the sound when it is on", "[demo]") {
    const auto stimulus = everything();
    const auto good = in_all_ways(stimulus, {});
    for (const auto& known : ferrule::all_faults()) {
        CAPTURE(known.name);
        ferrule::fault_set faults;
        faults.set(known.which, known.typical);
        const bool changes = in_all_ways(stimulus, faults) != good;  // not a page of samples
        CHECK(changes);
    }
}

TEST_CASE("a fault of magnitude 0 is the good build, bit for bit", "[demo]") {
    const auto stimulus = everything();
    const auto good = in_all_ways(stimulus, {});
    ferrule::fault_set faults;
    for (const auto& known : ferrule::all_faults()) {
        ferrule::add_fault(faults, std::string{known.name} + ":1");
        ferrule::add_fault(faults, std::string{known.name} + ":0");
    }
    const bool is_good = in_all_ways(stimulus, faults) == good;
    CHECK(is_good);
}

TEST_CASE("no fault makes samples that are not numbers or leave the rails", "[demo]") {
    const auto stimulus = everything();
    for (const auto& known : ferrule::all_faults()) {
        CAPTURE(known.name);
        ferrule::fault_set faults;
        faults.set(known.which, -1.5 * known.typical);
        for (const auto& way : in_all_ways(stimulus, faults)) {
            for (const float volts : way) {
                if (!(std::abs(volts) <= 12.0F)) FAIL("a sample of " << volts << " V");
            }
        }
    }
}

TEST_CASE("faults have names of their own and name only checks that exist", "[demo]") {
    const std::set<std::string> checks{
        "tracking", "slide",    "retrigger", "accent",    "envelope",    "level",
        "stereo",   "waveform", "noise",     "clicks",    "latency",     "gate",
        "pattern",  "range",    "extremes",  "unplugged", "slide range", "knob and jack"};
    std::set<std::string_view> names;
    for (const auto& known : ferrule::all_faults()) {
        CAPTURE(known.name);
        CHECK(names.insert(known.name).second);
        std::string rest{known.checks};
        while (!rest.empty()) {
            const auto comma = std::min(rest.find(','), rest.size());
            CHECK(checks.count(rest.substr(0, comma)) == 1);
            rest.erase(0, comma + 1);
        }
    }
}

TEST_CASE("a fault that is misspelt or lacks its magnitude is refused in words", "[demo]") {
    ferrule::fault_set faults;
    const auto* text = GENERATE("pitch-slop:1", "pitch-slope", "pitch-slope:", "pitch-slope:much");
    CAPTURE(text);
    CHECK_THROWS_AS(ferrule::add_fault(faults, text), ferrule::user_mistake);
}
