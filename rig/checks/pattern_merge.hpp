#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// What two results of different parts of a pattern say together: counts add up, of readings the
/// worst is shown, of sounds the first few are kept. However many parts there are, the result
/// grows no further than some thousand points.
[[nodiscard]] check_result merge_patterns(const check_request& request, check_result so_far,
                                          check_result more);

/// Names (reading::at) of what a pattern notes down beside its findings: of how many tied steps it
/// was asked whether they slide, and of how many it could be told.
inline constexpr const char* noted_asked = "tied steps";
inline constexpr const char* noted_told = "tied steps told to slide or jump";

/// Says so with the finding about the pitch of slid steps, or the number of wrong steps.
void tell_slides(check_result& result);

/// Keeps every k-th point of a series so that no more than `most` are left, and its last.
void thin_out(series& s, std::size_t most);

}  // namespace cvrig
