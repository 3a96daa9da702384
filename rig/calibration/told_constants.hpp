#pragma once

#include <optional>
#include <string>

#include "rig/calibration/story.hpp"

namespace cvrig {

/// Whether the constants that the module tells are the same for every ear: what tells them apart moves no
/// pitch of the stair by more than a hundredth of a cent, far below what two calibrations differ by.
/// Empty where the module does not tell them.
[[nodiscard]] std::optional<bool> tells_the_same(const calibration_story& story,
                                                 const tracking_moment& one,
                                                 const tracking_moment& other);

/// What was survived without the constants of the procedure, by what the module tells; null if nothing
/// was.
[[nodiscard]] const tracking_moment* first_told_loss(const calibration_story& story);

}  // namespace cvrig
