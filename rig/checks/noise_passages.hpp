#pragma once

#include <string>
#include <vector>

#include "rig/checks/check.hpp"

/// What the noise check plays.
namespace cvrig {

/// Gate low, every jack at rest: step 0 waits until a release is over, step 1 is listened to.
[[nodiscard]] passage silent_passage(const check_request& request);

/// One jack swings while the gate is low.
struct swung_jack {
    std::string name;
    volts low, high;
};

/// Every jack that may swing: all but the gate, which would strike notes.
[[nodiscard]] std::vector<swung_jack> swung_jacks(const check_request& request);

/// A square wave on one jack: step 0 waits, all others are half periods, low first.
[[nodiscard]] passage swung_passage(const check_request& request, const swung_jack& jack);

/// Of the square wave: 10 Hz or more from any multiple of 50 and 60 Hz, and low enough for inputs
/// that are slow.
inline constexpr hertz swing_pitch{170.0};

}  // namespace cvrig
