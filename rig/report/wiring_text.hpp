#pragma once

#include <string>

#include "rig/bench/wiring.hpp"
#include "rig/report/terminal_style.hpp"

namespace cvrig {

/// The wiring card as a table for a terminal: number, from, to, what it carries; then notes and
/// cautions.
[[nodiscard]] std::string wiring_text(const wiring_card& card, const terminal_style& style);

}  // namespace cvrig
