#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Does the voice survive its extremes? A note half-way, one with jack "cutoff" at its highest (the
/// choice of settings turns up the rest), and the first again: it must sound as before. A filter whose
/// state runs away to infinity or to no number stays silent, or noisy, for good.
///
/// Definition: survives = the pitch is heard again, and what is no part of it stands at most 20 dB
///             higher against it; level afterwards = rms of the last note over that of the first.
[[nodiscard]] check extremes_check();

}  // namespace cvrig
