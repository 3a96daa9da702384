#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// The held note that level and stereo listen to: struck, plain, at the `note` of the file (1 V
/// above the reference if it says none). Both checks ask for the same passage, so it sounds once.
[[nodiscard]] passage held_note(const check_request& request);

/// The part of it after the attack, of one jack.
[[nodiscard]] std::span<const double> held_part(const heard_passage& heard, std::size_t jack);

/// The pitch that the held note should have.
[[nodiscard]] hertz held_pitch(const check_request& request);

}  // namespace cvrig
