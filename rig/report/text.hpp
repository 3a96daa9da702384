#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

/// Text that came from elsewhere (module names, logs, files), made fit to be printed. Reports must
/// survive whatever a module or a user sends.
namespace cvrig::report {

/// Valid UTF-8 without control characters except line feed and tab: broken bytes become U+FFFD,
/// terminal escape sequences, other controls, bidirectional overrides and non-characters vanish.
/// What remains is also allowed in XML 1.0 (fifth edition, production [2] Char).
[[nodiscard]] std::string printable(std::string_view text);

/// The same on one line: every run of white space becomes one space, none at the ends.
[[nodiscard]] std::string one_line(std::string_view text);

/// Terminal columns that valid UTF-8 takes: 0 for combining marks, 2 for wide East Asian
/// characters and pictographs, else 1.
[[nodiscard]] std::size_t columns_of(std::string_view utf8);

/// Lines of at most `width` columns (at least 1), broken at spaces where possible. Never empty.
[[nodiscard]] std::vector<std::string> wrapped(std::string_view utf8, std::size_t width);

/// Cut to `width` columns.
[[nodiscard]] std::string clipped(std::string_view utf8, std::size_t width);

/// ASCII only: the few signs that reports use are spelled out, anything else becomes '?'.
[[nodiscard]] std::string in_ascii(std::string_view utf8);

}  // namespace cvrig::report
