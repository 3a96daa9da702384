#pragma once

#include <cstddef>
#include <optional>
#include <string_view>

namespace ferrule {

/// What a build does wrong when a user calibrates it; nothing of it can be heard otherwise.
struct calibration_habits {
    bool forgets = false;      ///< the constants are never written to the flash
    bool wrong_sign = false;   ///< what differs from the factory's constants goes the other way
    double scale = 1.0;        ///< and this many times as far
    bool reset_wipes = false;  ///< resetting the settings resets the constants as well
    double hasty_share = 0.0;  ///< of the first voltage that is left in the reading of the second
    std::optional<std::size_t> stuck_at;  ///< the point that is asked for again and again
};

/// Reads "forgets", "wrong sign", "scale 0.1", "reset wipes", "hasty 4 percent" or "stuck at 2";
/// throws user_mistake at anything else.
void read_calibration_habit(calibration_habits& into, std::string_view text);

}  // namespace ferrule
