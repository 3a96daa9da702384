#pragma once

#include "rig/evidence/read_report.hpp"
#include "rig/run/result.hpp"

/// What was read of a firmware file that is not in the evidence cannot be read again. It stands as it was
/// packed, and says so.
namespace cvrig::evidence {

/// Puts the packed findings that need the firmware file (the check image, and the console's version) in the
/// place of those that could not be made without it.
void take_over_image(run_result& now, const told_run& packed);

/// A report without the findings that need the firmware file.
[[nodiscard]] told_run without_image(told_run run);

}  // namespace cvrig::evidence
