#pragma once

#include <string>

#include "rig/report/groups.hpp"
#include "rig/report/ink.hpp"

namespace cvrig::report {

/// One table a check: demand, choice, reading, limit, verdict; the choices of one demand stand
/// beneath each other. Column widths are the same in all tables of a run.
void add_check_tables(std::string& out, const run_result& run, const run_layout& layout,
                      const ink& pen);

}  // namespace cvrig::report
