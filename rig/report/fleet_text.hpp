#pragma once

#include <string>

#include "rig/fleet/fleet.hpp"
#include "rig/report/terminal_style.hpp"

namespace cvrig {

/// The fleet's answers for a terminal: sentences first, then tables; no line is wider than the
/// terminal, or than 100 columns.
[[nodiscard]] std::string fleet_text(const fleet_answer& a, const terminal_style& style);

}  // namespace cvrig
