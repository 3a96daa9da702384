#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Does a long random bass line come out right? Pitch, strike and accent of every step against the
/// declared behaviour of the mode, wrong steps by number, and silences that look like a restart.
[[nodiscard]] check pattern_check();

/// How many wrong steps keep their sound.
inline constexpr std::size_t most_pattern_clips = 8;

}  // namespace cvrig
