#pragma once

#include "demo/modes.hpp"

#include <string>
#include <string_view>

namespace ferrule {

/// Switches and knobs. Knobs run from 0 (down) to 1 (up).
struct settings {
    ferrule::mode mode = ferrule::mode::tied;
    ferrule::waveform waveform = ferrule::waveform::saw;
    double cutoff_knob = 0.5;
    double resonance_knob = 0.3;
    double decay_knob = 0.3;
    double slide_knob = 0.0;
    bool cutoff_cable_in = true;  ///< no switch or knob, but as much in the hands of the user

    friend bool operator==(const settings&, const settings&) = default;
};

/// Sets one of `mode`, `waveform`, `cutoff knob`, `resonance knob`, `decay knob`, `slide knob` and
/// `cutoff cable` (in, out) from text; knobs also understand "down", "half" and "up". False when
/// there is no such setting; throws user_mistake when the value is impossible.
[[nodiscard]] bool read_setting(settings& into, std::string_view name, std::string_view value);

/// All that the module itself keeps, as lines "name=value" that read_setting understands.
[[nodiscard]] std::string write_settings(const settings& what);

}  // namespace ferrule
