#pragma once

#include <filesystem>

#include "rig/run/result.hpp"

namespace cvrig {

/// Makes `folder` ready for reports before anything is played, so that a run is not lost to a
/// folder that cannot be written; an earlier run's reports go away. Throws user_error.
void prepare_report_folder(const std::filesystem::path& folder);

/// Writes report.html, report.json and report.xml, each under a temporary name first, and the sounds
/// that were kept into `sounds` beside them. Throws user_error.
void write_reports(const std::filesystem::path& folder, const run_result& result);

/// The headline and tables on standard output; with `quiet` the headline only.
void print_result(const run_result& result, const std::filesystem::path& folder, bool quiet);

}  // namespace cvrig
