#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// How far do jacks "cutoff" and "decay" reach in each mode? Holds a low sawtooth while the cutoff
/// CV goes up its whole range in steps, and strikes it with the decay CV at either end.
///
/// Definition: cutoff = the highest frequency at which the gain is 3 dB below that far under it
///             (analysis/cutoff.hpp), once the filter's envelope is over; octaves per volt = slope
///             of its best straight line in octaves; dead zone = the longest part of the CV range,
///             in per cent of it, in which the cutoff does not move as it does elsewhere; decay =
///             time constant of the cutoff, in octaves, after a strike.
[[nodiscard]] check range_check();

}  // namespace cvrig
