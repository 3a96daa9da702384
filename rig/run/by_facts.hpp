#pragma once

#include <vector>

#include "rig/checks/outside_facts.hpp"
#include "rig/run/plan.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// Judges the checks of the plan that hear nothing, and puts their results among the others, in the
/// order of the file. What the takes heard of the console (a result "console" with "resets") becomes
/// a part of the check "console" if that is planned, so that a restart is told once.
void add_by_facts(std::vector<check_result>& results, const run_plan& plan,
                  const outside_facts& facts, const module_expectations& m, const bench& b);

/// Whether the plan has a check of that name among those that hear nothing.
[[nodiscard]] bool judges_by_facts(const run_plan& plan, std::string_view check);

}  // namespace cvrig
