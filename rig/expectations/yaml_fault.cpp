#include "rig/expectations/yaml_fault.hpp"

#include <yaml-cpp/exceptions.h>

#include <algorithm>
#include <array>
#include <utility>

namespace cvrig {

namespace {

using translation = std::pair<std::string_view, std::string_view>;

constexpr std::string_view open_bracket =
    "A list is opened with '[' and not closed with ']' before here.";
constexpr std::string_view open_brace =
    "A map is opened with '{' and not closed with '}' before here.";

const std::array<translation, 20>& translations() {
    namespace words = YAML::ErrorMsg;
    static const std::array<translation, 20> table{{
        {words::END_OF_SEQ_FLOW, open_bracket},
        {words::END_OF_MAP_FLOW, open_brace},
        {words::END_OF_MAP,
         "This does not continue the map above; check the indentation and write 'key: value'."},
        {words::END_OF_SEQ,
         "This does not continue the list above; start every item with '- ' at one indentation."},
        {words::MAP_VALUE,
         "A colon is not expected here; perhaps the line above lacks one, the indentation is "
         "wrong, or a text with a colon needs quotes."},
        {words::MAP_KEY, "A key is not expected here; check the indentation."},
        {words::EOF_IN_SCALAR, "A quote is opened and not closed."},
        {words::DOC_IN_SCALAR, "A quote is opened and not closed."},
        {words::CHAR_IN_SCALAR, "This text contains a character that needs quotes around it."},
        {words::UNKNOWN_TOKEN, "A text cannot begin with this character; put the text in quotes."},
        {words::INVALID_ESCAPE,
         "A backslash in double quotes must be followed by a known letter; write \\\\ for a "
         "backslash."},
        {words::INVALID_UNICODE, "A backslash escape names a character that does not exist."},
        {words::INVALID_HEX, "A backslash escape needs hexadecimal digits."},
        {words::FLOW_END, "A ']' or '}' closes nothing here."},
        {words::BLOCK_ENTRY, "A list item '- ' is not expected here; check the indentation."},
        {words::CHAR_IN_BLOCK,
         "Nothing may follow '|' or '>' on its line; put a text that begins with it in quotes."},
        {words::BAD_FILE, "The nesting is too deep; these files need few levels."},
        {words::UNKNOWN_ANCHOR, no_anchors},
        {words::ALIAS_NOT_FOUND, no_anchors},
        {words::ANCHOR_NOT_FOUND, no_anchors},
    }};
    return table;
}

}  // namespace

std::string plain_yaml_fault(std::string_view parser_words) {
    const auto& table = translations();
    const auto found = std::find_if(table.begin(), table.end(), [&](const translation& t) {
        return parser_words.starts_with(t.first);
    });
    if (found != table.end()) return std::string{found->second};
    return "This is not valid YAML; check the indentation, colons and quotes here.";
}

}  // namespace cvrig
