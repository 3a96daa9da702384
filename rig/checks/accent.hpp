#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Does an accent lift its note, only its note, and by how much? Plays plain and accented notes and
/// a run of accents; reads level rise, brightness rise, decay ratio, build-up over the run, what is
/// left of it after a rest, and whether the plain notes around an accent stay plain.
[[nodiscard]] check accent_check();

}  // namespace cvrig
