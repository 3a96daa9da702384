#include "rig/report/ink.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/report/text.hpp"

namespace cvrig::report {

std::size_t ink::width() const noexcept {
    return static_cast<std::size_t>(std::max(style_.width, 60));
}

std::string ink::text(std::string_view foreign) const {
    const auto line = one_line(foreign);
    return style_.utf8 ? line : in_ascii(line);
}

std::string ink::mark(verdict v) const {
    switch (v) {
        case verdict::pass:
            return style_.utf8 ? "✓ pass" : "+ pass";
        case verdict::fail:
            return style_.utf8 ? "✗ FAIL" : "x FAIL";
        case verdict::unsure:
            return "? unsure";
        case verdict::skipped:
            return style_.utf8 ? "– skipped" : "- skipped";
    }
    return {};
}

// ECMA-48, 8.3.117 (SGR): 1 bold, 2 faint, 31 to 33 red, green, yellow, 0 back to normal.
std::string ink::painted(std::string_view code, std::string_view text) const {
    if (!style_.colour || text.empty()) return std::string{text};
    return fmt::format("\x1b[{}m{}\x1b[0m", code, text);
}

std::string ink::tinted(verdict v, std::string_view text) const {
    switch (v) {
        case verdict::pass:
            return painted("32", text);
        case verdict::fail:
            return painted("1;31", text);
        case verdict::unsure:
            return painted("33", text);
        case verdict::skipped:
            return painted("2", text);
    }
    return std::string{text};
}

std::string ink::strong(std::string_view text) const {
    return painted("1", text);
}

std::string ink::faint(std::string_view text) const {
    return painted("2", text);
}

std::string ink::rule(std::size_t columns) const {
    std::string line;
    for (std::size_t i = 0; i < columns; ++i) line += style_.utf8 ? "─" : "-";
    return line;
}

std::string padded(std::string text, std::size_t columns) {
    const auto used = columns_of(text);
    if (used < columns) text.append(columns - used, ' ');
    return text;
}

}  // namespace cvrig::report
