#pragma once

#include <string>
#include <string_view>

#include "rig/report/terminal_style.hpp"
#include "rig/run/verdict.hpp"

namespace cvrig::report {

/// Text and signs as one terminal can show them.
class ink {
public:
    explicit ink(const terminal_style& style) noexcept : style_{style} {}

    [[nodiscard]] std::size_t width() const noexcept;
    /// Foreign text on one line, spelled out in ASCII where the terminal knows nothing else.
    [[nodiscard]] std::string text(std::string_view foreign) const;
    /// "✓ pass", "✗ FAIL", "? unsure", "– skipped"; ASCII signs where needed. Without colour.
    [[nodiscard]] std::string mark(verdict v) const;
    /// In the verdict's colour if there are colours.
    [[nodiscard]] std::string tinted(verdict v, std::string_view text) const;
    [[nodiscard]] std::string strong(std::string_view text) const;
    [[nodiscard]] std::string faint(std::string_view text) const;
    /// A horizontal rule of `columns`.
    [[nodiscard]] std::string rule(std::size_t columns) const;
    [[nodiscard]] std::string_view dot() const noexcept { return style_.utf8 ? " · " : " | "; }
    [[nodiscard]] std::string_view branch() const noexcept { return style_.utf8 ? "└ " : "` "; }
    /// "As above".
    [[nodiscard]] std::string_view ditto() const noexcept { return style_.utf8 ? "″" : "\""; }

    [[nodiscard]] bool utf8() const noexcept { return style_.utf8; }

private:
    [[nodiscard]] std::string painted(std::string_view code, std::string_view text) const;

    terminal_style style_;
};

/// Filled up with spaces on the right to `columns`.
[[nodiscard]] std::string padded(std::string text, std::size_t columns);

}  // namespace cvrig::report
