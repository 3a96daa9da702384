#pragma once

#include <string>
#include <vector>

#include "rig/stimulus/render.hpp"

namespace cvrig::test {

inline driven_jack gate_jack(const std::string& name) {
    return {name, true, volts{0.0}, volts{5.0}, volts{0.0}, {}};
}

/// A voice with one further CV, which rests at 2.5 V.
inline module_expectations small_voice() {
    module_expectations m;
    m.drive = {{"pitch", false, volts{0.0}, volts{4.0}, volts{0.0}, {}},
               gate_jack("gate"),
               gate_jack("accent"),
               {"cutoff", false, volts{0.0}, volts{5.0}, volts{2.5}, {}}};
    m.listen = {"left"};
    return m;
}

inline bench_output output(const std::string& jack, double lowest_v, double highest_v) {
    bench_output out;
    out.jack = jack;
    out.lowest = volts{lowest_v};
    out.highest = volts{highest_v};
    out.where = {"desk.yaml", 5, 5};
    return out;
}

/// Another order than the module's, and one output more.
inline bench small_desk() {
    bench b;
    b.outputs = {output("gate", -0.1, 5.5), output("pitch", -0.1, 5.0), output("spare", -0.1, 5.5),
                 output("cutoff", 0.0, 5.0), output("accent", 0.0, 5.5)};
    return b;
}

enum channel : std::size_t { gate, pitch, spare, cutoff, accent };

inline passage tune(const std::string& check, std::vector<step> steps) {
    return {check, std::move(steps), "a tune", {{"mode", "tied"}}};
}

inline step note(double length_s, double pitch_v) {
    step s;
    s.length = seconds{length_s};
    s.pitch = volts{pitch_v};
    s.gate = true;
    return s;
}

inline step rest(double length_s, double pitch_v) {
    auto s = note(length_s, pitch_v);
    s.gate = false;
    return s;
}

}  // namespace cvrig::test
