#include "rig/expectations/expression.hpp"

#include <fmt/format.h>

#include <utility>

namespace cvrig {

namespace {

constexpr std::size_t longest = 500;

std::regex::flag_type flags() {
#ifdef __GLIBCXX__
    // Without this the library tries one alternative after the other, by recursion.
    return std::regex_constants::ECMAScript | std::regex_constants::__polynomial;
#else
    return std::regex_constants::ECMAScript;
#endif
}

std::string_view in_words(std::regex_constants::error_type code) {
    namespace why = std::regex_constants;
    if (code == why::error_brack) return "a square bracket '[' is not closed, or ']' not opened";
    if (code == why::error_paren) return "a parenthesis '(' is not closed, or ')' not opened";
    if (code == why::error_brace) return "a brace '{' is not closed, or '}' not opened";
    if (code == why::error_badbrace) return "between '{' and '}' stands no count such as {2,3}";
    if (code == why::error_range) return "a range of characters such as [z-a] runs backwards";
    if (code == why::error_escape) return "a backslash stands before a character that has no need";
    if (code == why::error_backref) return "it refers back to a group, which is not possible here";
    if (code == why::error_badrepeat) return "a '*', '+', '?' or '{' has nothing to repeat";
    if (code == why::error_ctype) return "it names a class of characters that does not exist";
    if (code == why::error_collate) return "it names a character that does not exist";
    if (code == why::error_complexity || code == why::error_stack || code == why::error_space)
        return "it is too complicated";
    return "it cannot be understood";
}

bool is_plain(char c) {
    return std::string_view{"\\^$.|?*+()[]{}"}.find(c) == std::string_view::npos;
}

/// A count after a character makes it optional, so that character does not count.
std::string plain_beginning(const std::string& text) {
    if (text.find('|') != std::string::npos) return {};
    std::size_t n = 0;
    while (n < text.size() && is_plain(text[n])) ++n;
    if (n > 0 && n < text.size() && std::string_view{"?*{"}.find(text[n]) != std::string_view::npos)
        --n;
    return text.substr(0, n);
}

/// The library takes it for a parenthesis that is not closed.
bool repeats_nothing(const std::string& text) {
    return std::string_view{"*+?{"}.find(text.front()) != std::string_view::npos;
}

/// The library finds out that it cannot go back only when it matches.
bool refers_back(const std::string& text) {
    for (std::size_t i = 0; i + 1 < text.size(); ++i) {
        if (text[i] != '\\') continue;
        if (text[i + 1] >= '1' && text[i + 1] <= '9') return true;
        ++i;
    }
    return false;
}

}  // namespace

expression::expression(std::string text, std::regex compiled)
    : text_{std::move(text)}, beginning_{plain_beginning(text_)}, compiled_{std::move(compiled)} {}

parsed<expression> expression::parse(const std::string& text) {
    if (text.empty()) return tl::unexpected{std::string{"it is empty"}};
    if (text.size() > longest)
        return tl::unexpected{fmt::format("it is longer than {} characters", longest)};
    if (refers_back(text))
        return tl::unexpected{std::string{in_words(std::regex_constants::error_backref)}};
    if (repeats_nothing(text))
        return tl::unexpected{std::string{in_words(std::regex_constants::error_badrepeat)}};
    try {
        return expression{text, std::regex{text, flags()}};
    } catch (const std::regex_error& e) {
        return tl::unexpected{std::string{in_words(e.code())}};
    }
}

std::optional<std::vector<std::string>> expression::match(std::string_view line) const {
    if (!line.starts_with(beginning_)) return std::nullopt;
    std::match_results<std::string_view::const_iterator> found;
    if (!std::regex_match(line.begin(), line.end(), found, compiled_)) return std::nullopt;
    std::vector<std::string> captures;
    for (std::size_t i = 1; i < found.size(); ++i) captures.push_back(found[i].str());
    return captures;
}

std::string either_case(std::string_view text) {
    std::string out;
    for (const char c : text) {
        const bool upper = c >= 'A' && c <= 'Z';
        if (upper || (c >= 'a' && c <= 'z')) {
            const char other = static_cast<char>(upper ? c - 'A' + 'a' : c - 'a' + 'A');
            out += fmt::format("[{}{}]", c, other);
        } else {
            if (!is_plain(c)) out += '\\';
            out += c;
        }
    }
    return out;
}

}  // namespace cvrig
