#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Does the pitch follow the voltage? Plays a stair of struck notes and reads each note's error,
/// the best straight line through them (scale, offset, departure), hysteresis, settling and drift.
///
/// Definition: error = interval from the demanded to the measured pitch; scale = slope of the
///             least-squares line of measured against demanded octaves, less one, in per cent.
///             Each note's error is noted down (check_result::noted), whatever the file demands.
/// Source:     straight line and its covariance, JCGM 100:2008, H.3.
[[nodiscard]] check tracking_check();

}  // namespace cvrig
