#pragma once

#include <vector>

#include "rig/cli/commands.hpp"
#include "rig/run/baseline.hpp"

namespace cvrig {

/// The readings that limits of the file follow: those of the report that --baseline names. Throws
/// user_error if that is none, or another module's.
[[nodiscard]] std::vector<baseline_reading> baseline_for(const run_arguments& a,
                                                         const module_expectations& m);

}  // namespace cvrig
