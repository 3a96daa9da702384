#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Clicks, dropouts, zipper steps and the pop at switching on: whatever is in the sound that no
/// note asked for.
[[nodiscard]] check clicks_check();

}  // namespace cvrig
