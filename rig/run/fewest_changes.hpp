#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace cvrig {

/// The position of every switch and knob, each counted from 0.
using positions = std::vector<int>;

/// An order in which to visit all of `points`, so that as few positions as possible change on the
/// way. Among equally good orders the one is chosen that keeps to the given order longest (up to
/// the size below), so a list that needs no other order keeps its own.
///
/// Definition: shortest Hamiltonian path under the Hamming metric. With `start` the way begins
///             there; a position that is negative there is unknown, and costs one change.
/// Source:     Held and Karp 1962, "A dynamic programming approach to sequencing problems", Journal
///             of SIAM 10(1), for up to most_exact points; the reflected mixed-radix Gray code
///             (Knuth, The Art of Computer Programming 4A, 7.2.1.1, algorithm H; from memory) for
///             all combinations of positions. Both are optimal. Else the better of the nearest
///             neighbour's way and the walk around the minimum spanning tree, improved by
///             exchanging and moving parts (Croes 1958, Or 1976).
/// Input:      distinct points of equal length.
/// Error:      the last way makes at most twice as many changes between points as any way must:
///             the walk around the tree does (Rosenkrantz, Stearns and Lewis 1977), and improving
///             never adds any.
[[nodiscard]] std::vector<std::size_t> fewest_changes(
    std::span<const positions> points, const std::optional<positions>& start = std::nullopt);

constexpr std::size_t most_exact = 13;

/// How many positions differ.
[[nodiscard]] int changes(const positions& a, const positions& b) noexcept;

/// How many changes any way through all points needs at least: the weight of the minimum spanning
/// tree.
[[nodiscard]] int least_changes(std::span<const positions> points);

}  // namespace cvrig
