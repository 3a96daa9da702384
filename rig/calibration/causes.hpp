#pragma once

#include <optional>

#include "rig/calibration/story.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// What went wrong with a calibration, as far as what was seen tells; empty where nothing did.
///
/// Causes: "stuck at voltage N", "constants not stored", "wrong sign", "wrong scale", "voltage N
///         read too early", "wiped by a settings reset", "lost at a re-flash", "constants not used",
///         "hardware", "constants not the best", "no typical pattern".
/// Method: how far the pitch moved from before to after is set against how far it had to move. One
///         share of both ends of the range tells not stored (0), wrong sign (-1) and wrong scale;
///         a voltage that was misread moves the line as the straight line of least squares through
///         the voltages makes it, or shows in what the module says it saw.
[[nodiscard]] std::optional<diagnosis> cause_of(const calibration_story& story);

}  // namespace cvrig
