#include "rig/report/progress.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "rig/report/text.hpp"

namespace cvrig {

namespace {

constexpr int bar_cells = 20;

/// Filled from the left, in eighths of a cell where the terminal has them.
std::string bar(double done, bool utf8) {
    static constexpr std::array eighths{"", "▏", "▎", "▍", "▌", "▋", "▊", "▉"};
    const int steps = static_cast<int>(std::floor(std::clamp(done, 0.0, 1.0) * bar_cells * 8));
    const int full = steps / 8;
    std::string cells;
    int used = full;
    for (int i = 0; i < full; ++i) cells += utf8 ? "█" : "#";
    if (utf8 && steps % 8 != 0) {
        cells += eighths.at(static_cast<std::size_t>(steps % 8));
        ++used;
    }
    for (int i = used; i < bar_cells; ++i) cells += utf8 ? "·" : ".";
    return cells;
}

std::string time_left(seconds left) {
    const auto s = static_cast<long>(std::ceil(std::max(left.value(), 0.0)));
    return s < 60 ? fmt::format("{} s left", s) : fmt::format("{}:{:02} min left", s / 60, s % 60);
}

}  // namespace

progress_line::progress_line(std::ostream& out, const terminal_style& style, bool is_terminal)
    : out_{&out}, pen_{style}, is_terminal_{is_terminal} {}

progress_line::~progress_line() {
    clear();
}

void progress_line::show(const run_progress& now) {
    if (!is_terminal_) return;
    const double whole = now.whole.value();
    const double done = whole > 0.0 ? 1.0 - now.left.value() / whole : 0.0;
    const auto line = fmt::format("{} {}/{}  {}  {}", bar(done, pen_.utf8()), now.take, now.takes,
                                  time_left(now.left), pen_.text(now.plays));
    // The last column stays free: writing there would wrap some terminals.
    *out_ << '\r' << report::clipped(line, pen_.width() - 1) << "\x1b[K" << std::flush;
    drawn_ = true;
}

void progress_line::clear() {
    if (!drawn_) return;
    *out_ << "\r\x1b[K" << std::flush;
    drawn_ = false;
}

}  // namespace cvrig
