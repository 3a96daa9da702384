#pragma once

#include <string>

#include "rig/run/result.hpp"

namespace cvrig {

/// The run for machines: JSON after report.schema.json beside this file ("cvrig report 1").
///
/// Numbers are in the base unit that stands beside them (keys that end in _s are seconds); one that
/// is not finite is null. Keys come in a fixed order; text is valid UTF-8 without controls.
[[nodiscard]] std::string json_report(const run_result& run);

}  // namespace cvrig
