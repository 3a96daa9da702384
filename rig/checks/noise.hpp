#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Silence, and CVs that move while the gate is low: hiss, hum, whine and bleed.
[[nodiscard]] check noise_check();

}  // namespace cvrig
