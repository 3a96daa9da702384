#pragma once

#include <string>

#include "rig/evidence/read_report.hpp"
#include "rig/history/database.hpp"
#include "rig/history/file_run.hpp"

namespace cvrig::history {

/// A run with three demands: a reading that passes, one that fails, and an answer.
[[nodiscard]] evidence::told_run small_run(const std::string& build, double error_cents = 3.0);

/// What a report does not say, with this key.
[[nodiscard]] run_circumstances keyed(const std::string& key);

}  // namespace cvrig::history
