#pragma once

#include <span>

#include "rig/run/result.hpp"

namespace cvrig {

/// Where one check's cause explains all that another check failed on, says so there: the other's
/// diagnosis becomes "Follows from slide: ...", with the same cause, and `follows_from`
/// names the check. One fault is then mended once, however many checks hear it.
///
/// Only a cause found in the same setting that the two share most of is taken over (a mode's slides
/// explain that mode's line). What each cause can reach is a table of the trade's own connections:
/// common practice, no source.
void name_consequences(std::span<check_result> results);

}  // namespace cvrig
