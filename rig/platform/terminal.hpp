#pragma once

#include "rig/report/terminal_style.hpp"

namespace cvrig {

/// How to write to standard output and to standard error: colour only on a terminal that wants it
/// (NO_COLOR unset), the terminal's width, and UTF-8 if the locale says so.
[[nodiscard]] terminal_style output_style();
[[nodiscard]] terminal_style error_style();

/// Whether standard error is a terminal on which a progress line may be drawn.
[[nodiscard]] bool error_is_terminal();

}  // namespace cvrig
