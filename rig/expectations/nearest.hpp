#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace cvrig {

/// Number of slips between two texts: insertions, deletions, substitutions and swaps of neighbours.
///
/// Definition: optimal string alignment distance, on bytes.
/// Source:     Damerau 1964, "A technique for computer detection and correction of spelling
///             errors", Communications of the ACM 7(3): the four kinds of slip.
[[nodiscard]] std::size_t slips(std::string_view a, std::string_view b);

/// The known word that `text` was probably meant to be, ignoring case: one that needs slips in at
/// most a third of its letters (at least one), else the only one that begins with `text`.
[[nodiscard]] std::optional<std::string> nearest(std::string_view text,
                                                 std::span<const std::string> known);

}  // namespace cvrig
