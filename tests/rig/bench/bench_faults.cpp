#include "tests/rig/bench/bench_faults.hpp"

#include <cmath>
#include <random>

namespace cvrig::testing {

namespace {

class dice {
public:
    explicit dice(std::uint64_t seed) : generator_{seed} {}
    double between(double low, double high) {
        return std::uniform_real_distribution<double>{low, high}(generator_);
    }
    double either(double a, double b) { return between(0.0, 1.0) < 0.5 ? a : b; }

private:
    std::mt19937_64 generator_;
};

}  // namespace

bench desk() {
    bench b;
    b.name = "desk";
    b.audio.emplace();
    b.audio->device = "desk";
    b.outputs.resize(3);
    b.inputs.resize(2);
    const char* outputs[] = {"pitch", "gate", "accent"};
    const char* inputs[] = {"left", "right"};
    for (std::size_t i = 0; i < 3; ++i) {
        b.outputs[i].jack = outputs[i];
        b.outputs[i].channel = i + 1;
    }
    for (std::size_t i = 0; i < 2; ++i) {
        b.inputs[i].jack = inputs[i];
        b.inputs[i].channel = i + 1;
    }
    b.loop.emplace();
    b.loop->output_channel = 4;
    b.loop->input_channel = 3;
    return b;
}

interface_manners good_manners(std::uint64_t seed) {
    dice d{seed};
    interface_manners m;
    m.seed = seed;
    m.delay_samples = d.between(20.0, 4000.0);
    m.cutoff = d.between(0.45, 0.5);
    m.noise_volts = std::pow(10.0, d.between(-5.0, -3.3));
    m.hum = volts{d.between(0.0, 0.0006)};
    m.hum_frequency = hertz{d.either(50.0, 60.0)};
    m.gain = d.between(0.998, 1.002);
    m.loop_offset = volts{d.between(-0.002, 0.002)};
    m.loop_to_inputs = d.between(0.0, 0.0003);
    m.outputs_to_loop = d.between(0.0, 0.0003);
    m.frames_per_second = 48000.0 * (1.0 + d.between(-1e-4, 1e-4));
    return m;
}

std::vector<bench_fault> bench_faults(std::uint64_t seed) {
    dice d{seed + 1000};
    std::vector<bench_fault> out;
    const auto add = [&](const std::string& name, const std::string& finding,
                         const std::string& words) -> interface_manners& {
        out.push_back({name, good_manners(seed), finding, words});
        return out.back().manners;
    };
    add("soft volume", "gain", "software volume").gain = d.either(d.between(0.6, 0.97), 1.15);
    add("cold leg shorted", "gain", "cold leg").gain = d.between(0.49, 0.51);
    add("scaled by ten", "gain", "scales by ten").loop_gain = 0.1;
    add("inverted", "polarity", "inverted").loop_gain = -1.0;
    add("offset", "offset", "offset").loop_offset = volts{d.either(-1, 1) * d.between(0.008, 0.3)};
    add("AC-coupled output", "droop in a second", "AC-coupled").output_corner =
        hertz{d.between(0.3, 30.0)};
    add("AC-coupled input", "droop in a second", "AC-coupled").input_corner =
        hertz{d.between(0.3, 30.0)};
    add("bent", "straightness", "straight line").bend = d.between(0.01, 0.05);
    add("input clips", "straightness", "clips").clips_at = volts{d.between(0.6, 0.9)};
    add("mains hum", "mains hum", "hum").hum = volts{d.between(0.005, 0.5)};
    add("noisy", "noise", "noise").noise_volts = d.between(0.006, 0.1);
    add("foreign sound on the loop-back", "noise", "foreign").foreign_on_loop =
        volts{d.between(0.01, 0.5)};
    add("foreign sound on the inputs", "rest of left", "sound while the module rests")
        .foreign_on_inputs = volts{d.between(0.03, 0.5)};
    add("crosstalk into the inputs", "crosstalk into left", "left").loop_to_inputs =
        d.between(0.003, 0.1);
    add("crosstalk into the loop-back", "crosstalk from gate", "part the cables").outputs_to_loop =
        d.between(0.003, 0.02);
    add("mixer", "crosstalk from pitch", "mixer").outputs_to_loop = d.between(0.1, 1.0);
    add("two clocks", "one clock", "two clocks").drift_ppm = d.either(-1, 1) * d.between(25, 150);
    add("resampled", "bandwidth", "resampler").resampled = true;
    add("rates differ", "one clock", "rate").rate_ratio = d.either(44.1 / 48, 48 / 44.1);
    add("wrong rate", "sample rate", "rate").frames_per_second = d.either(44100.0, 16000.0);
    const auto at = static_cast<std::size_t>(d.between(20000, 34000));
    const auto many = static_cast<std::ptrdiff_t>(d.between(1, 600));
    add("samples lost", "whole samples", "lost").slips = {{at, many}};
    add("samples repeated", "whole samples", "repeated").slips = {{at, -many}};
    // Behind the sequence, where nothing but the closing one can tell.
    const auto later = static_cast<std::size_t>(d.between(46000, 74000));
    add("samples lost later", "whole samples", "lost between").slips = {{later, many}};
    add("samples repeated later", "whole samples", "put in between").slips = {{later, -many}};
    const auto last = static_cast<std::size_t>(d.between(84000, 85000));
    add("samples lost at the end", "whole samples", "does not keep up").slips = {{last, many}};
    add("driver out of time", "stream", "blocks").events = {
        {stream_event::kind::underrun, 4800, 0.0}};
    add("no cable", "loop-back", "plug in the loop-back cable").loop_cable = false;
    auto& exchanged = add("cable in the wrong input", "loop-back", "wrong socket");
    exchanged.loop_cable = false;
    exchanged.loop_cable_in_input = 1;
    return out;
}

}  // namespace cvrig::testing
