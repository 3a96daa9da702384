#pragma once

#include <string>

#include "rig/bench/bench.hpp"
#include "rig/report/terminal_style.hpp"
#include "rig/run/patch_check.hpp"

namespace cvrig {

/// What the patch check found, for a terminal: a headline, where each output was heard to lead,
/// what is wrong, what could not be told.
[[nodiscard]] std::string patch_text(const patch_result& found, const bench& b,
                                     const terminal_style& style);

}  // namespace cvrig
