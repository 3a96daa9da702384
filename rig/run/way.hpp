#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "rig/run/fewest_changes.hpp"

namespace cvrig {

/// A good way through many points, found step by step (see fewest_changes).
[[nodiscard]] std::vector<std::size_t> improved_way(std::span<const positions> points,
                                                    const std::optional<positions>& start);

}  // namespace cvrig
