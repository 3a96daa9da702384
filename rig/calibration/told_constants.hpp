#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rig/calibration/story.hpp"

namespace cvrig {

/// Whether the constants that the module tells are the same for every ear: what tells them apart moves no
/// pitch of the stair by more than a hundredth of a cent, far below what two calibrations differ by.
/// Empty where the module does not tell them.
[[nodiscard]] std::optional<bool> tells_the_same(const calibration_story& story,
                                                 const tracking_moment& one,
                                                 const tracking_moment& other);

/// How the unit would sound after the procedure, by what the module tells of its constants and how it
/// sounded before: for a module that sounds no pitch any more. Empty where it does not tell them.
[[nodiscard]] std::vector<tracked_note> told_notes_after(const calibration_story& story);

/// What the module tells of a constant whose sign is the wrong one, completes a sentence; empty if none
/// is, or nobody can tell. The right ones follow from how the unit sounded before.
[[nodiscard]] std::string told_wrong_sign(const calibration_story& story);

/// What was survived without the constants of the procedure, by what the module tells; null if nothing
/// was.
[[nodiscard]] const tracking_moment* first_told_loss(const calibration_story& story);

}  // namespace cvrig
