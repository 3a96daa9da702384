#pragma once

#include <string>

#include "rig/report/groups.hpp"
#include "rig/report/ink.hpp"

namespace cvrig::report {

/// Check by choice of settings, one sign a cell, for the terminal; the choices that few checks
/// share are named beside theirs. Empty where there is but one choice.
[[nodiscard]] std::string check_map(const run_layout& layout, const ink& pen);

}  // namespace cvrig::report
