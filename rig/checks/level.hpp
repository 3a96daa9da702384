#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// How loud is a held note? Peak, level re sqrt(0.6) V, DC offset, clipped samples of every output.
[[nodiscard]] check level_check();

}  // namespace cvrig
