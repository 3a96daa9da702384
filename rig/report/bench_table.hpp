#pragma once

#include <string>

#include "rig/report/ink.hpp"
#include "rig/run/result.hpp"

namespace cvrig::report {

/// What a live rig proved of itself: how much of each proof holds, every doubt in a sentence, and
/// what it cannot exclude. Nothing for a run without a live bench.
void add_bench_table(std::string& out, const run_result& run, const ink& pen);

}  // namespace cvrig::report
