#pragma once

#include <algorithm>
#include <cmath>

#include "rig/expectations/value.hpp"

namespace cvrig {

/// How far off a limit about 0 lets a quantity be, either way: the nearer of its bounds.
[[nodiscard]] inline double most_allowed(const limit& allowed) noexcept {
    return std::min(std::abs(allowed.upper.value_or(INFINITY)),
                    std::abs(allowed.lower.value_or(-INFINITY)));
}

}  // namespace cvrig
