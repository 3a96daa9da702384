#pragma once

#include "demo/modes.hpp"

namespace ferrule {

/// Switches and knobs. Knobs run from 0 (down) to 1 (up).
struct settings {
    ferrule::mode mode = ferrule::mode::tied;
    ferrule::waveform waveform = ferrule::waveform::saw;
    double cutoff_knob = 0.5;
    double resonance_knob = 0.3;
    double decay_knob = 0.3;
    double slide_knob = 0.0;
};

}  // namespace ferrule
