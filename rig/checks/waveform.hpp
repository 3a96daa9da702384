#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Held notes, low and high: which wave the module gives, how well it is shaped, what aliases.
[[nodiscard]] check waveform_check();

}  // namespace cvrig
