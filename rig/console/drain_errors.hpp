#pragma once

#include <optional>

#include "rig/console/console.hpp"

namespace cvrig {

/// Asks for errors until there is none: what went wrong before is not the fault of what is done next.
/// Bounded, since a module may report the same error for ever. Nothing if the rules know no such
/// question.
void drain_errors(console& talks, const std::optional<console_rules>& rules);

}  // namespace cvrig
