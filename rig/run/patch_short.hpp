#pragma once

#include "rig/run/patch_cast.hpp"
#include "rig/run/patch_listening.hpp"

namespace cvrig::patching {

/// Plays the hypothesis that all is as the bench file says.
///
/// Each effect is played while the other outputs are high, so that a second cable into the same
/// jack would hide it; so every single deviation shows.
[[nodiscard]] short_reading play_short_test(player& to_module, const bench& b,
                                            const module_expectations& m, const cast& who,
                                            seconds longest_latency);

}  // namespace cvrig::patching
