#pragma once

#include <cstddef>
#include <optional>
#include <string>

#include "rig/calibration/story.hpp"

namespace cvrig {

/// A voltage of the procedure that the module took for another one, on its way from the voltage
/// before.
struct misread_voltage {
    std::size_t number{0};   ///< from 1; never the first, which has none before it
    double share{0.0};       ///< of the step from the voltage before that was still to come
    double left_share{0.0};  ///< of what was read that it does not explain; 0 where codes tell it
    std::string evidence;    ///< completes a sentence
};

/// Definition: where the module tells a code for each voltage and its constants, what it saw against
///             what the stair before says it should have seen. Else, how a misread voltage tilts and
///             shifts the straight line of least squares through all voltages.
/// Refuses: empty if no single voltage explains what was read, or if what it explains is smaller
///          than what remains.
[[nodiscard]] std::optional<misread_voltage> misread_voltage_of(const calibration_story& story);

}  // namespace cvrig
