#pragma once

#include "demo/calibration_mode.hpp"
#include "demo/console/instrument.hpp"

#include <functional>
#include <vector>

namespace ferrule {

/// What the calibration needs of the module around it. Each may throw command_error.
struct calibrated_module {
    std::function<double()> pitch_code;  ///< of the voltage at the jack now, over 4096 readings
    std::function<calibration()> constants;
    std::function<void(const calibration&)> use;  ///< from now on, and after the next start
    std::function<void(bool)> mute;               ///< nothing sounds while it is calibrated
    std::function<const calibration_habits&()> habits;
};

/// CALibration:BEGin, POINt, STORe, ABORt, RESTore, STATe?, CONStants, TABLe. `mode` must outlive the
/// commands.
void add_calibration_commands(std::vector<command>& to, calibration_mode& mode,
                              const calibrated_module& module);

}  // namespace ferrule
