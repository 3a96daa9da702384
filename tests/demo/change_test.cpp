#include "demo/render.hpp"
#include "playing.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>

using ferrule::jack;

namespace {

constexpr double change_seconds = 0.6;

/// A held low note; half-way, `change` happens to the module.
ferrule::sound held(const ferrule::settings& set,
                    const std::function<void(ferrule::module_under_test&)>& change) {
    playing::score score{1.0};
    const auto stimulus = score.set(jack::pitch, 0.0, 0.0).gate(0.05, 1.0).stimulus();
    auto plan = playing::calibrated(1);
    plan.set = set;
    ferrule::host host{plan, {}, ferrule::jack_count};
    ferrule::sound heard{48000, 2, {}};
    heard.samples.resize(stimulus.frames() * 2);
    const auto half = static_cast<std::size_t>(change_seconds * 48000.0);
    host.process(std::span{stimulus.samples}.first(half * ferrule::jack_count),
                 std::span{heard.samples}.first(half * 2));
    change(host.module());
    host.process(std::span{stimulus.samples}.subspan(half * ferrule::jack_count),
                 std::span{heard.samples}.subspan(half * 2));
    return heard;
}

/// The largest second difference of a stretch: a step of size d gives d, a smooth wave little.
double roughness(const ferrule::sound& heard, double from, double to) {
    const auto wave = playing::channel(heard, 0, from, to);
    double most = 0.0;
    for (std::size_t i = 2; i < wave.size(); ++i) {
        most = std::max(most, std::abs(wave[i] - 2.0 * wave[i - 1] + wave[i - 2]));
    }
    return most;
}

}  // namespace

TEST_CASE("setting what is set already changes no bit", "[demo]") {
    ferrule::settings set;
    set.cutoff_knob = 0.37;
    set.waveform = ferrule::waveform::blend;
    const auto untouched = held(set, [](auto&) {});
    const auto touched = held(set, [&](auto& module) {
        module.set(set);
        module.set(playing::calibrated(1).stored);
    });
    CHECK(untouched.samples == touched.samples);
}

TEST_CASE("a setting that changes while a note sounds is the new one soon after", "[demo]") {
    ferrule::settings from;
    from.cutoff_knob = 0.2;
    auto to = from;
    to.waveform = ferrule::waveform::square;
    to.cutoff_knob = 0.6;
    to.resonance_knob = 0.0;
    const auto changed = held(from, [&](auto& module) { module.set(to); });
    const auto always = held(to, [](auto&) {});
    // The filter has forgotten after some milliseconds; phase and envelopes never differed. Both
    // outputs carry 0.1 mV of the same noise.
    const auto a = playing::channel(changed, 0, 0.7, 0.99);
    const auto b = playing::channel(always, 0, 0.7, 0.99);
    double most = 0.0;
    for (std::size_t i = 0; i < a.size(); ++i) most = std::max(most, std::abs(a[i] - b[i]));
    CHECK(most < 0.002);
}

// A dark sound, so that its own edges are smooth: its second difference stays below 10 mV, and a
// click of 20 mV would stand out.
TEST_CASE("settings change without a click", "[demo]") {
    ferrule::settings from;
    from.cutoff_knob = 0.0;
    from.resonance_knob = 0.0;
    from.decay_knob = 0.0;
    const auto what = GENERATE(0, 1, 2, 3, 4);
    auto to = from;
    if (what == 0) to.waveform = ferrule::waveform::square;
    if (what == 1) to.mode = ferrule::mode::struck;
    if (what == 2) to.resonance_knob = 0.4;
    if (what == 3) to.cutoff_knob = 0.2;
    if (what == 4) to.slide_knob = 1.0;
    const auto heard = held(from, [&](auto& module) { module.set(to); });
    const double usual = std::max(roughness(heard, 0.5, 0.59), roughness(heard, 0.65, 0.75));
    CAPTURE(what, usual);
    CHECK(usual < 0.05);
    CHECK(roughness(heard, 0.59, 0.65) < 1.5 * usual + 0.002);
}
