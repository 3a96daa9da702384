#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Which transitions strike the envelopes again? A truth table of transition x answer: slide, tied
/// step without slide (legato), new gate, accent during a held note; amplitude and filter envelope
/// apart, judged against plain struck notes of the same module.
[[nodiscard]] check retrigger_check();

}  // namespace cvrig
