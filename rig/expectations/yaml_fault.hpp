#pragma once

#include <string>
#include <string_view>

namespace cvrig {

/// What the YAML parser's own words for a syntax error mean to somebody who writes these files: one
/// plain sentence that says what to do.
[[nodiscard]] std::string plain_yaml_fault(std::string_view parser_words);

/// Sentences for what YAML allows and these files do not.
inline constexpr std::string_view no_anchors =
    "Anchors (&) and aliases (*) are not allowed; write the value out, or put it in quotes if it "
    "is a text.";
inline constexpr std::string_view no_tags =
    "Tags (!) are not allowed; put the text in quotes if the exclamation mark belongs to it.";

}  // namespace cvrig
