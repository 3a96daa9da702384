#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// How long does a slide take at each position of a knob? Plays one slide a choice of settings.
///
/// Definition: slide time = the time constant, as in the check "slide".
[[nodiscard]] check slide_range_check();

}  // namespace cvrig
