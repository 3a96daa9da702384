#pragma once

#include <span>
#include <string>

#include "rig/history/baseline.hpp"
#include "rig/history/stored_run.hpp"
#include "rig/history/trend.hpp"
#include "rig/report/terminal_style.hpp"

/// What a history holds, for a terminal.
namespace cvrig {

/// One line for each run.
[[nodiscard]] std::string runs_text(std::span<const history::stored_run> runs,
                                    const terminal_style& style);

/// A run with all its findings, what did not pass first.
[[nodiscard]] std::string run_text(const history::stored_run& run, const evidence::told_run& told,
                                   const terminal_style& style);

/// What to mind before two runs are compared, one sentence each: other modules, units, benches. Empty
/// if they are of the same.
[[nodiscard]] std::vector<std::string> other_subjects(const history::stored_run& a,
                                                      const history::stored_run& b);

/// The names of the readings that can be followed, by number.
[[nodiscard]] std::string demands_text(std::span<const history::stored_demand> demands,
                                       const terminal_style& style);

/// A reading over the builds, and from which build on it is another.
[[nodiscard]] std::string trend_text(const history::trend& t, const terminal_style& style);

[[nodiscard]] std::string baselines_text(std::span<const history::baseline> baselines,
                                         const terminal_style& style);

}  // namespace cvrig
