#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Does a note rise, decay and end as it should, however long its gate? Plays a short and a long
/// note, notes struck again in mid-decay, and a note whose filter closes; reads attack, decay,
/// sustain, filter decay, release, what the release owes to the gate's length, where its tail is
/// cut off, and whether a strike drops the level first.
[[nodiscard]] check envelope_check();

}  // namespace cvrig
