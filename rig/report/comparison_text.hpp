#pragma once

#include <string>

#include "rig/evidence/compare.hpp"
#include "rig/report/terminal_style.hpp"

namespace cvrig {

/// How the two sides of a comparison are called: "here" and "there", "packed" and "read again".
struct side_names {
    std::string first, second;
};

/// Two runs side by side, for a terminal: first what else differs, since that may explain the rest; then each
/// reading that differs beyond both uncertainties with both values, the verdicts that differ, what could not
/// be compared, what only one of them has. If nothing differs, it says so, and of how many readings.
[[nodiscard]] std::string comparison_text(const evidence::comparison& c, const side_names& names,
                                          const terminal_style& style);

}  // namespace cvrig
