#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "rig/checks/check.hpp"

namespace cvrig {

/// Which passage of the clicks check is which; a ramp is played only where its steps are demanded.
struct clicks_plan {
    std::vector<passage> passages;         ///< the scene first
    std::vector<std::string> scene_names;  ///< what each step of the scene is, for readers
    std::size_t held_step{1};              ///< of the scene: the long held note
    std::size_t pitch_ramp{0};             ///< index of its passage; 0: not played
    std::size_t cutoff_ramp{0};
};

/// Where the ramps of both passages lie.
inline constexpr std::size_t ramp_step = 2;

/// A scene with everything that makes bad firmware click (a held note, gates, notes struck again in
/// mid-decay, an accent, slides, a jump of the pitch, jumps of the cutoff), then one slow way of the
/// pitch and one of the cutoff under held notes.
[[nodiscard]] clicks_plan plan_clicks(const check_request& request);

/// The highest pitch of a passage.
[[nodiscard]] hertz highest_pitch(const check_request& request, const passage& p);

}  // namespace cvrig
