#include "tests/rig/simple_module.hpp"

#include <cmath>
#include <numbers>
#include <random>

namespace cvrig::testing {

namespace {

std::vector<float> sound_of(const stimulus& sent, const simple_module& module, double gain,
                            unsigned seed) {
    const auto law = simple_expectations().pitch;
    std::mt19937 random{seed};
    std::normal_distribution<double> noise{0.0, module.noise_volts};
    std::vector<float> out;
    double phase = 0.0;
    for (std::size_t i = 0; i < sent.size(); ++i) {
        const hertz pitch = raised(law.pitch(volts{sent.volts[0][i]}), module.detuned);
        phase += pitch / hertz{sent.rate.value()};
        double sum = 0.0;
        for (int k = 1; k <= 8; ++k) sum += std::sin(2.0 * std::numbers::pi * k * phase) / k;
        const double gate = sent.volts[1][i] > 1.5F ? 1.0 : 0.0;
        out.push_back(static_cast<float>(gain * gate * sum + noise(random)));
    }
    return out;
}

}  // namespace

take simple_link::play(const stimulus& sent, const setting_choice& choice, int number,
                       int attempt) {
    ++module_.plays;
    take out = begin_take(sent, choice, number, attempt);
    out.heard_jacks = {"left", "right"};
    out.heard = {sound_of(sent, module_, 1.0, 1), sound_of(sent, module_, module_.right_gain, 2)};
    if (module_.spoil) module_.spoil(out);
    return out;
}

module_expectations simple_expectations() {
    module_expectations m;
    m.module = "simple";
    m.pitch = {.at = volts{0.0}, .reference = hertz{130.8127826502993}, .per_octave = volts{1.0}};
    m.drive = {{.name = "pitch",
                .is_gate = false,
                .low = volts{0.0},
                .high = volts{4.0},
                .rest = volts{0.0},
                .where = {}},
               {.name = "gate",
                .is_gate = true,
                .low = volts{0.0},
                .high = volts{5.0},
                .rest = volts{0.0},
                .where = {}},
               {.name = "accent",
                .is_gate = true,
                .low = volts{0.0},
                .high = volts{5.0},
                .rest = volts{0.0},
                .where = {}},
               {.name = "slide",
                .is_gate = true,
                .low = volts{0.0},
                .high = volts{5.0},
                .rest = volts{0.0},
                .where = {}}};
    m.listen = {"left", "right"};
    m.retakes = 2;
    return m;
}

bench simple_bench() {
    bench b;
    b.name = "test bench";
    for (const char* jack : {"pitch", "gate", "accent", "slide"}) {
        auto& out = b.outputs.emplace_back();
        out.jack = jack;
        out.u = volts{0.0001};
    }
    for (const char* jack : {"left", "right"}) {
        auto& in = b.inputs.emplace_back();
        in.jack = jack;
        in.u_gain_percent = 0.1;
    }
    return b;
}

keyed_value everywhere(value v) {
    keyed_value k;
    k.otherwise = std::move(v);
    return k;
}

limit between(double lower, double upper, dimension unit) {
    limit l;
    l.lower = lower;
    l.upper = upper;
    l.unit = unit;
    l.text = "a test limit";
    return l;
}

}  // namespace cvrig::testing
