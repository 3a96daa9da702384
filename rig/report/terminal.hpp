#pragma once

#include <string>

#include "rig/report/terminal_style.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// The run as plain text: verdict, a map of check by choice, one table a check, the reason beneath
/// everything that did not pass, troubled takes, and what to do next. No line is wider than
/// `style.width` columns; nothing from the module can move the cursor or change colours.
[[nodiscard]] std::string terminal_table(const run_result& run, const terminal_style& style);

}  // namespace cvrig
