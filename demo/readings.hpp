#pragma once

namespace ferrule {

/// What the firmware knows of its jacks and knobs in one block.
struct readings {
    double pitch_code = 0.0;  ///< mean of the block
    bool gate = false;
    bool accent = false;
    bool slide = false;
    double cutoff_volts = 0.0;  ///< knob and jack together, 0 to 5
    double decay_volts = 0.0;   ///< knob and jack together, 0 to 5
};

}  // namespace ferrule
