#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Do two outputs carry the same sound? Gain difference, polarity, delay and null depth of the
/// second recorded jack against the first, on a held note.
[[nodiscard]] check stereo_check();

}  // namespace cvrig
