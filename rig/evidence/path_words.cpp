#include "rig/evidence/path_words.hpp"

#include <algorithm>
#include <array>

namespace cvrig::evidence {

namespace {

constexpr auto npos = std::string_view::npos;
constexpr std::string_view word_ends{" \t\"'`<>()[]{},;|"};

bool is_digit(char c) noexcept {
    return c >= '0' && c <= '9';
}

bool is_letter(char c) noexcept {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

bool is_slash(char c) noexcept {
    return c == '/' || c == '\\';
}

bool all_digits(std::string_view text) noexcept {
    return !text.empty() && std::ranges::all_of(text, is_digit);
}

/// "/home", "\\host", "~/x", "~ann/x", "./x", "../x", "C:\x", "https://x".
bool is_rooted(std::string_view word) noexcept {
    if (word.size() < 2) return false;
    if (is_slash(word[0])) return word.find_first_not_of("/\\") != npos;
    if (word[0] == '~') return word.find('/') != npos;
    if (word.starts_with("./") || word.starts_with("../") || word.starts_with(".\\")) return true;
    if (word.size() > 2 && is_letter(word[0]) && word[1] == ':' && is_slash(word[2])) return true;
    return word.find("://") != npos;
}

bool is_path(std::string_view word) noexcept {
    if (is_rooted(word)) return true;
    const auto slashes = std::ranges::count_if(word, is_slash);
    if (slashes == 0 || !std::ranges::any_of(word, is_letter)) return false;
    if (word.find('\\') != npos && word.find('\\') > 0) return true;
    return slashes >= 2 || has_file_ending(word.substr(word.find_last_of("/\\") + 1));
}

/// Punctuation that ends a sentence belongs to no word.
std::string_view without_end(std::string_view word) noexcept {
    while (!word.empty() && std::string_view{".:!?"}.find(word.back()) != npos)
        word.remove_suffix(1);
    return word;
}

/// Where in a word a path begins: the whole word, or what stands behind "name=" or "name:".
std::size_t path_within(std::string_view word) noexcept {
    if (word.find_first_of("/\\") == npos) return npos;
    for (const char separator : {'=', ':'}) {
        const auto at = word.find(separator);
        // A drive's letter and an address's scheme belong to the path.
        if (at == npos) continue;
        const bool is_own = separator == ':' && (at == 1 || word.substr(at).starts_with("://"));
        if (is_own) continue;
        const auto rest = path_within(word.substr(at + 1));
        if (rest != npos) return at + 1 + rest;
        if (separator == ':') word = word.substr(0, at);  // "slide.cpp:12"
    }
    return is_path(without_end(word)) ? 0 : npos;
}

bool is_number_address(std::string_view word) noexcept {
    int parts = 0;
    while (true) {
        const auto dot = std::min(word.find('.'), word.size());
        const auto part = word.substr(0, dot);
        constexpr std::size_t most_digits = 3;
        if (!all_digits(part) || part.size() > most_digits ||
            (part.size() == most_digits && part > "255"))
            return false;
        ++parts;
        if (dot == word.size()) return parts == 4;
        word.remove_prefix(dot + 1);
    }
}

bool is_hex_digit(char c) noexcept {
    return is_digit(c) || (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F');
}

/// How many groups of one to four hexadecimal digits; 0 if there is anything else. The last may be an
/// address of version 4, which stands for two.
int groups_of(std::string_view text) noexcept {
    int groups = 0;
    while (true) {
        const auto colon = std::min(text.find(':'), text.size());
        const auto group = text.substr(0, colon);
        if (colon == text.size() && is_number_address(group)) return groups + 2;
        constexpr std::size_t most_digits = 4;
        if (group.empty() || group.size() > most_digits ||
            !std::ranges::all_of(group, is_hex_digit))
            return 0;
        ++groups;
        if (colon == text.size()) return groups;
        text.remove_prefix(colon + 1);
    }
}

/// A name such as "add::fade" has no digit, and a time of day is too short.
bool is_number_address_6(std::string_view word) noexcept {
    constexpr int all_groups = 8;
    word = word.substr(0, word.find('%'));
    if (!std::ranges::any_of(word, is_digit)) return false;
    const auto gap = word.find("::");
    if (gap == npos) return groups_of(word) == all_groups;
    const auto left = word.substr(0, gap);
    auto right = word.substr(gap + 2);
    if (right.ends_with(':')) right.remove_suffix(1);  // of the sentence
    const auto is_part = [](std::string_view part) { return part.empty() || groups_of(part) > 0; };
    return is_part(left) && is_part(right);
}

}  // namespace

std::size_t find_path(std::string_view line, std::size_t from) noexcept {
    while (true) {
        const auto begin = line.find_first_not_of(word_ends, from);
        if (begin == npos) return npos;
        const auto end = std::min(line.find_first_of(word_ends, begin), line.size());
        const auto at = path_within(line.substr(begin, end - begin));
        if (at != npos) return begin + at;
        from = end;
    }
}

bool has_file_ending(std::string_view word) noexcept {
    const auto dot = word.rfind('.');
    if (dot == npos || dot == 0) return false;
    const auto ending = word.substr(dot + 1);
    constexpr std::size_t longest = 10;
    return !ending.empty() && ending.size() <= longest && is_letter(ending.front()) &&
           std::ranges::all_of(ending, [](char c) { return is_letter(c) || is_digit(c); });
}

bool is_port(std::string_view word) noexcept {
    word = without_end(word);
    constexpr std::array kinds{std::string_view{"ttyACM"}, std::string_view{"ttyUSB"},
                               std::string_view{"ttyS"}, std::string_view{"ttyAMA"},
                               std::string_view{"COM"}};
    for (const auto kind : kinds)
        if (word.starts_with(kind) && all_digits(word.substr(kind.size()))) return true;
    for (const std::string_view kind : {"cu.", "tty."})
        if (word.starts_with(kind) && word.size() > kind.size()) return true;
    return false;
}

bool is_address(std::string_view word) noexcept {
    if (is_number_address_6(word)) return true;
    word = without_end(word);
    if (is_number_address_6(word)) return true;
    if (const auto colon = word.rfind(':'); colon != npos && all_digits(word.substr(colon + 1)))
        word = word.substr(0, colon);
    const auto at = word.find('@');
    if (at != npos && at > 0 && at + 1 < word.size() && !is_digit(word[at + 1])) return true;
    for (const std::string_view home : {".local", ".lan", ".home", ".fritz.box"})
        if (word.ends_with(home) && word.size() > home.size()) return true;
    return is_number_address(word);
}

bool is_host_with_port(std::string_view word, std::string_view before) noexcept {
    word = without_end(word);
    const auto colon = word.rfind(':');
    if (colon == npos || colon == 0 || !all_digits(word.substr(colon + 1))) return false;
    const auto host = word.substr(0, colon);
    const bool is_name = std::ranges::all_of(host, [](char c) {
        return is_letter(c) || is_digit(c) || c == '-' || c == '.' || c == '_';
    });
    if (!is_name || !std::ranges::any_of(host, is_letter) || host == "localhost") return false;
    if (before == "TCP") return true;
    const auto dot = host.find('.');
    return (before == "on" || before == "to") && dot != npos && dot > 0 && host.back() != '.';
}

}  // namespace cvrig::evidence
