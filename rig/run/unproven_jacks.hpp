#pragma once

#include <span>
#include <string>
#include <vector>

#include "rig/run/plan.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// Turns failures that need a jack of which nothing was heard into doubts: a missing cable would
/// look the same, and a fault of the rig is none of the firmware. Passes stay: they were heard.
void doubt_failures(std::vector<check_result>& results, const run_plan& plan,
                    std::span<const std::string> unproven_jacks);

}  // namespace cvrig
