#include "demo/settings.hpp"

#include "demo/choices.hpp"
#include "demo/text.hpp"

#include <sstream>

namespace ferrule {
namespace {

constexpr choices<mode, 3> modes{
    {{"tied", mode::tied}, {"struck", mode::struck}, {"wide", mode::wide}}};
constexpr choices<waveform, 3> waveforms{
    {{"saw", waveform::saw}, {"blend", waveform::blend}, {"square", waveform::square}}};
constexpr choices<bool, 2> cables{{{"in", true}, {"out", false}}};
constexpr choices<double settings::*, 4> knobs{{{"cutoff knob", &settings::cutoff_knob},
                                                {"resonance knob", &settings::resonance_knob},
                                                {"decay knob", &settings::decay_knob},
                                                {"slide knob", &settings::slide_knob}}};

double position_of(std::string_view name, std::string_view value) {
    if (value == "down") return 0.0;
    if (value == "half") return 0.5;
    if (value == "up") return 1.0;
    return number_of(name, value, 0.0, 1.0);
}

}  // namespace

bool read_setting(settings& into, std::string_view name, std::string_view value) {
    if (name == "mode") {
        into.mode = choose(modes, name, value);
        return true;
    }
    if (name == "waveform") {
        into.waveform = choose(waveforms, name, value);
        return true;
    }
    if (name == "cutoff cable") {
        into.cutoff_cable_in = choose(cables, name, value);
        return true;
    }
    for (const auto& [knob, member] : knobs) {
        if (name != knob) continue;
        into.*member = position_of(name, value);
        return true;
    }
    return false;
}

std::string write_settings(const settings& what) {
    std::ostringstream lines;
    lines << "mode=" << word_for(modes, what.mode) << '\n'
          << "waveform=" << word_for(waveforms, what.waveform) << '\n';
    for (const auto& [knob, member] : knobs) lines << knob << '=' << what.*member << '\n';
    return lines.str();
}

}  // namespace ferrule
