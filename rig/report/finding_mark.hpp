#pragma once

#include "rig/report/markup.hpp"
#include "rig/run/result.hpp"

namespace cvrig::report {

/// Draws a finding: a reading with its ±U as a tick with a whisker in its tolerance interval, whose
/// guard bands are shaded; an answer as a bar as long as the odds of the expected one.
/// Nothing for a finding that has neither.
void add_mark(markup& page, const finding& f, double coverage_factor);

}  // namespace cvrig::report
