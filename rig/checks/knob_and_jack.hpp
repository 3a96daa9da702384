#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Do the cutoff's knob and its jack add up? Holds a note over the CV's range with the knob down (the
/// first of its values) and with the knob elsewhere (the others), and compares what differs in
/// nothing else.
///
/// Definition: the knob is worth the volts at the jack that give the same cutoff with the knob down
///             as the knob alone does; it adds up by how much further, in per cent, the jack moves
///             the cutoff from there than it does from those volts with the knob down.
/// Error:      a tenth of what is left of the filter's envelope counts as unknown, since no envelope need
///             follow its law to the end: where one does, far more than 95 % of the intervals hold
///             the truth (scripts/coverage).
[[nodiscard]] check knob_and_jack_check();

}  // namespace cvrig
