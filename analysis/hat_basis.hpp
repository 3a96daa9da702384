#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"

/// Tables that are read by straight lines between their nodes, as a linear model of the entries.
namespace cvrig::analysis {

/// The weight of each table entry in what the table gives at each x.
///
/// Definition: row by row, one row of nodes.size() numbers for each x: 1 - t and t at the two nodes
///             about x, 0 elsewhere. Beyond the ends the first and the last piece go on straight
///             (weights below 0 and above 1), as most firmware tables are read: common practice, no
///             source.
/// Source:     standard mathematics (linear spline in its B-spline basis).
/// Input:      2 or more nodes, rising strictly; any finite x.
/// Error:      rounding.
/// Refuses:    too_short (fewer than 2 nodes, no x), not_finite, bad_argument (nodes do not rise).
[[nodiscard]] outcome<std::vector<double>> hat_basis(std::span<const double> nodes,
                                                     std::span<const double> x);

}  // namespace cvrig::analysis
