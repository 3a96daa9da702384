#include "demo/console/program_message.hpp"

namespace ferrule {
namespace {

constexpr std::string_view white = " \t";

std::string_view trimmed(std::string_view text) {
    const auto begin = text.find_first_not_of(white);
    if (begin == std::string_view::npos) return {};
    return text.substr(begin, text.find_last_not_of(white) - begin + 1);
}

/// The pieces between separators that are not within quotes.
std::vector<std::string_view> split(std::string_view text, char separator) {
    std::vector<std::string_view> pieces;
    char quote = '\0';
    std::size_t begin = 0;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        if (quote != '\0') {
            if (c == quote) quote = '\0';
        } else if (c == '"' || c == '\'') {
            quote = c;
        } else if (c == separator) {
            pieces.push_back(trimmed(text.substr(begin, i - begin)));
            begin = i + 1;
        }
    }
    pieces.push_back(trimmed(text.substr(begin)));
    return pieces;
}

message_unit read_unit(std::string_view text) {
    const auto end = text.find_first_of(white);
    auto header = text.substr(0, end);
    message_unit unit;
    unit.query = header.ends_with('?');
    if (unit.query) header.remove_suffix(1);
    unit.header = header;
    if (end == std::string_view::npos) return unit;
    for (const auto parameter : split(trimmed(text.substr(end)), ',')) {
        unit.parameters.emplace_back(parameter);
    }
    return unit;
}

}  // namespace

std::vector<message_unit> read_message(std::string_view line) {
    std::vector<message_unit> units;
    for (const auto piece : split(line, ';')) {
        if (!piece.empty()) units.push_back(read_unit(piece));
    }
    return units;
}

}  // namespace ferrule
