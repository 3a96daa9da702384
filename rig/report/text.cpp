#include "rig/report/text.hpp"

#include <utf8.h>

#include <array>
#include <iterator>
#include <utility>

namespace cvrig::report {

namespace {

bool between(char32_t c, char32_t first, char32_t last) {
    return first <= c && c <= last;
}

bool unprintable(char32_t c) {
    return (c < 0x20 && c != '\n' && c != '\t') || between(c, 0x7F, 0x9F) ||
           between(c, 0x202A, 0x202E) || between(c, 0x2066, 0x2069) || c == 0xFEFF ||
           between(c, 0xFDD0, 0xFDEF) || (c & 0xFFFE) == 0xFFFE;
}

/// Past an escape sequence of ECMA-48 (5.4) that starts at `at`, the ESC.
std::size_t after_escape(const std::u32string& s, std::size_t at) {
    std::size_t i = at + 1;
    if (i >= s.size() || s[i] != '[') return i;
    ++i;
    while (i < s.size() && between(s[i], 0x20, 0x3F)) ++i;
    return i < s.size() && between(s[i], 0x40, 0x7E) ? i + 1 : i;
}

std::u32string code_points(std::string_view text) {
    std::string valid;
    utf8::replace_invalid(text.begin(), text.end(), std::back_inserter(valid));
    std::u32string all;
    utf8::utf8to32(valid.begin(), valid.end(), std::back_inserter(all));
    return all;
}

std::string encoded(const std::u32string& s) {
    std::string text;
    utf8::utf32to8(s.begin(), s.end(), std::back_inserter(text));
    return text;
}

std::size_t columns_of_one(char32_t c) {
    if (between(c, 0x300, 0x36F) || between(c, 0x200B, 0x200F) || between(c, 0xFE00, 0xFE0F)) {
        return 0;
    }
    const bool wide = between(c, 0x1100, 0x115F) || between(c, 0x2E80, 0xA4CF) ||
                      between(c, 0xAC00, 0xD7A3) || between(c, 0xF900, 0xFAFF) ||
                      between(c, 0xFE30, 0xFE6F) || between(c, 0xFF00, 0xFF60) ||
                      between(c, 0x1F300, 0x1FAFF) || between(c, 0x20000, 0x3FFFD);
    return wide ? 2 : 1;
}

std::size_t columns_of(const std::u32string& s) {
    std::size_t n = 0;
    for (const char32_t c : s) n += columns_of_one(c);
    return n;
}

/// Takes from the front of `rest` what fits on a line.
std::u32string take_line(std::u32string& rest, std::size_t width) {
    std::size_t end = 0, used = 0, space = std::u32string::npos;
    while (end < rest.size() && used + columns_of_one(rest[end]) <= width) {
        if (rest[end] == ' ') space = end;
        used += columns_of_one(rest[end]);
        ++end;
    }
    if (end < rest.size() && rest[end] == ' ') space = end;
    if (end == rest.size()) return std::exchange(rest, {});
    if (space == std::u32string::npos || space == 0) space = std::max<std::size_t>(end, 1);
    auto line = rest.substr(0, space);
    rest.erase(0, space < rest.size() && rest[space] == ' ' ? space + 1 : space);
    return line;
}

}  // namespace

std::string printable(std::string_view text) {
    const auto all = code_points(text);
    std::u32string kept;
    for (std::size_t i = 0; i < all.size();) {
        if (all[i] == 0x1B) {
            i = after_escape(all, i);
            continue;
        }
        if (!unprintable(all[i])) kept.push_back(all[i]);
        ++i;
    }
    return encoded(kept);
}

std::string one_line(std::string_view text) {
    std::string line;
    for (const char c : printable(text)) {
        const bool blank = c == ' ' || c == '\n' || c == '\t';
        if (!blank) {
            line.push_back(c);
        } else if (!line.empty() && line.back() != ' ') {
            line.push_back(' ');
        }
    }
    if (!line.empty() && line.back() == ' ') line.pop_back();
    return line;
}

std::size_t columns_of(std::string_view utf8) {
    return columns_of(code_points(utf8));
}

std::vector<std::string> wrapped(std::string_view utf8, std::size_t width) {
    auto rest = code_points(utf8);
    std::vector<std::string> lines;
    do {
        lines.push_back(encoded(take_line(rest, std::max<std::size_t>(width, 1))));
    } while (!rest.empty());
    return lines;
}

std::string clipped(std::string_view utf8, std::size_t width) {
    auto all = code_points(utf8);
    while (columns_of(all) > width) all.pop_back();
    return encoded(all);
}

std::string in_ascii(std::string_view utf8) {
    static constexpr std::array<std::pair<char32_t, std::string_view>, 6> spelled{
        {{0xB1, "+-"}, {0xB5, "u"}, {0x2013, "-"}, {0x2014, "-"}, {0x2019, "'"}, {0xD7, "x"}}};
    std::string ascii;
    for (const char32_t c : code_points(utf8)) {
        std::string_view as = "?";
        for (const auto& [sign, spelling] : spelled) {
            if (sign == c) as = spelling;
        }
        if (c < 0x80) {
            ascii.push_back(static_cast<char>(c));
        } else {
            ascii += as;
        }
    }
    return ascii;
}

}  // namespace cvrig::report
