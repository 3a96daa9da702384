#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace cvrig {

/// A user's text in quotes for a message: one line, printable, shortened if longer than so many bytes.
[[nodiscard]] std::string quoted(std::string_view text, std::size_t most_bytes = 60);

/// "a, b and c"; "nothing" for an empty list; a long list ends in "and 7 more".
[[nodiscard]] std::string listed(std::span<const std::string> words);

/// "'errr' is not a key of check 'tracking' (one of: in, notes, error); did you mean 'error'?"
/// `what` names the kind of thing, such as "a key of check 'tracking'".
[[nodiscard]] std::string not_one_of(std::string_view found, std::string_view what,
                                     std::span<const std::string> known);

/// With a capital first letter, as a sentence begins.
[[nodiscard]] std::string capitalised(std::string sentence);

/// Without leading and trailing white space, and with every run of it inside made one blank.
[[nodiscard]] std::string squeezed(std::string_view text);

}  // namespace cvrig
