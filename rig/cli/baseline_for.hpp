#pragma once

#include <string>
#include <vector>

#include "rig/cli/commands.hpp"
#include "rig/history/database.hpp"
#include "rig/run/baseline.hpp"

namespace cvrig {

/// The readings that limits of the file follow: those of the run that --baseline names (a report folder, or a
/// run of the history as find_run() takes it); without it those of the run that was approved last for this
/// module, unit and bench. Empty where no limit follows any, and where there is no such run. What an older or
/// newer cvrig measured in another way is left out: approve a run of this one.
///
/// Input:   `unit` and `bench_name` as the run will be filed; a named baseline of others is told with its own. `in`
///          may be null: no history is kept.
/// Refuses: throws user_error for a name that is neither, and for a run of another module.
[[nodiscard]] std::vector<baseline_reading> baseline_for(const run_arguments& a,
                                                         const module_expectations& m,
                                                         const std::string& unit,
                                                         const std::string& bench_name,
                                                         history::database* in);

}  // namespace cvrig
