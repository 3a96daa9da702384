#pragma once

#include <cstddef>
#include <optional>
#include <regex>
#include <string>
#include <string_view>
#include <vector>

#include "rig/expectations/quantity.hpp"

namespace cvrig {

/// A regular expression that a user wrote, to be matched against whole lines.
///
/// Source:  ECMA-262, third edition (1999), section 15.10, as ISO/IEC 14882:2020 [re.grammar]
///          adopts it. Back-references are refused, so that matching takes a time that grows with
///          expression and line, never explodes, and needs no deep stack.
class expression {
public:
    /// One sentence that completes "... is no regular expression: " for what is none.
    [[nodiscard]] static parsed<expression> parse(const std::string& text);

    /// The captured texts if the whole line matches; a group that took no part is empty.
    [[nodiscard]] std::optional<std::vector<std::string>> match(std::string_view line) const;

    /// How many texts it captures.
    [[nodiscard]] std::size_t groups() const noexcept { return compiled_.mark_count(); }

    [[nodiscard]] const std::string& text() const noexcept { return text_; }

private:
    expression(std::string text, std::regex compiled);

    std::string text_;
    std::string beginning_;  ///< plain characters that every matching line begins with
    std::regex compiled_;
};

/// An expression that matches exactly `text`, in either case of its letters.
[[nodiscard]] std::string either_case(std::string_view text);

}  // namespace cvrig
