#pragma once

#include <span>
#include <string>
#include <vector>

#include "rig/evidence/compare.hpp"
#include "rig/history/baseline.hpp"
#include "rig/history/stored_run.hpp"
#include "rig/history/trend.hpp"

/// What a history holds, for machines and for the daemon's page: documents of format "cvrig history 1"
/// (RFC 8259). Numbers are in the base unit that is named beside them, with the text that people read.
namespace cvrig {

/// {"runs": [...]}
[[nodiscard]] std::string runs_json(std::span<const history::stored_run> runs);

/// {"builds": [{..., "runs": [...]}]}
[[nodiscard]] std::string builds_json(std::span<const history::build_with_runs> builds);

/// {"run": {...}, "findings": [...], "takes": [...]}
[[nodiscard]] std::string run_json(const history::stored_run& run, const evidence::told_run& told);

/// {"a": {...}, "b": {...}, "circumstances": [...], "moved": [...], "other_verdicts": [...], ...}
[[nodiscard]] std::string comparison_json(const history::stored_run& a,
                                          const history::stored_run& b,
                                          const evidence::comparison& c);

/// {"readings": [...]}
[[nodiscard]] std::string demands_json(std::span<const history::stored_demand> demands);

/// {"reading": {...}, "points": [...], "change_points": [...]}
[[nodiscard]] std::string trend_json(const history::trend& t);

/// {"baselines": [...]}
[[nodiscard]] std::string baselines_json(std::span<const history::baseline> baselines);

}  // namespace cvrig
