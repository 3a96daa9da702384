#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// At which voltages does a gate open and close, does a slow edge strike once, how short may a
/// trigger be?
[[nodiscard]] check gate_check();

}  // namespace cvrig
