#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Does a slide take its time, with the right shape, and arrive? Plays tied note pairs with the
/// slide on and reads time constant, 10-90 % time, shape, overshoot and arrival; a run of two
/// slides and a slide that is interrupted half-way must behave like a single one.
///
/// Definition: time constant = tau of f(t) = f1 (f0/f1)^exp(-t/tau) (exponential in volts at a volt
///             an octave); rise time = ln 9 tau; arrival = interval from the pitch of a struck note
///             at the same voltage to the pitch that the slide ends on.
[[nodiscard]] check slide_check();

}  // namespace cvrig
