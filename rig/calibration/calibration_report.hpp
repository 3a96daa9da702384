#pragma once

#include "rig/bench/bench.hpp"
#include "rig/calibration/story.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// What was seen while a unit was calibrated, as a result that reports can show: whether the
/// procedure went through, the error afterwards against what the file wants, whether the constants
/// survive, pitch before and after, and what is to blame if it failed. Pure.
[[nodiscard]] check_result as_check_result(const calibration_story& story,
                                           const module_expectations& m, const bench& b,
                                           const setting_choice& choice);

}  // namespace cvrig
