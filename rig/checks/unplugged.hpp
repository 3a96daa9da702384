#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Does a jack without its cable count as 0 V? Holds a note over the CV's range with the cable in
/// (the first of its values) and pulled (the others), and compares what differs in nothing else.
///
/// Definition: it reads as the volts at the jack that give the same cutoff with the cable in; of all
///             moments without cable, the one farthest off.
/// Error:      as of "knob and jack".
[[nodiscard]] check unplugged_check();

}  // namespace cvrig
