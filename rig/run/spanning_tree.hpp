#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "rig/run/fewest_changes.hpp"

namespace cvrig {

/// The minimum spanning tree of points under the number of changes between them.
///
/// Source: Prim 1957, "Shortest connection networks and some generalizations", Bell System Technical
///         Journal 36(6).
/// Input:  one or more points.
class spanning_tree {
public:
    spanning_tree(std::span<const positions> points, std::size_t root);

    [[nodiscard]] int weight() const noexcept { return weight_; }

    /// Every point when it is first met on a walk around the tree, from the root.
    [[nodiscard]] std::vector<std::size_t> walk() const;

private:
    std::size_t root_;
    std::vector<std::vector<std::size_t>> children_;
    int weight_{0};
};

}  // namespace cvrig
