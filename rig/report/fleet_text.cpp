#include "rig/report/fleet_text.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/report/fleet_story.hpp"
#include "rig/report/ink.hpp"
#include "rig/report/paragraphs.hpp"
#include "rig/report/text.hpp"

namespace cvrig {

namespace {

using report::columns_of;
using report::fleet_table;
using report::ink;

constexpr std::size_t margin = 2, gap = 2, narrowest = 4;
constexpr std::size_t most_rows = 40;

using widths = std::vector<std::size_t>;

/// As wide as the widest cell; where that does not fit, the widest column gives way.
widths fitted(const fleet_table& t, const ink& pen) {
    widths all(t.head.size(), 0);
    const auto take_in = [&](const std::vector<std::string>& cells) {
        for (std::size_t i = 0; i < std::min(all.size(), cells.size()); ++i)
            all[i] = std::max(all[i], columns_of(pen.text(cells[i])));
    };
    take_in(t.head);
    for (const auto& row : t.rows) take_in(row);
    const std::size_t room = pen.width() - margin;
    const auto needed = [&] {
        std::size_t sum = 0;
        for (const auto w : all) sum += w + gap;
        return sum - gap;
    };
    while (needed() > room) {
        const auto widest = std::ranges::max_element(all);
        if (*widest <= narrowest) break;
        --*widest;
    }
    return all;
}

/// Cells side by side, each wrapped in its column.
void add_row(std::string& out, const std::vector<std::string>& cells, const widths& wide,
             const ink& pen, bool is_head) {
    std::vector<std::vector<std::string>> lines;
    std::size_t height = 0;
    for (std::size_t i = 0; i < wide.size(); ++i) {
        lines.push_back(
            report::wrapped(pen.text(i < cells.size() ? cells[i] : std::string{}), wide[i]));
        height = std::max(height, lines.back().size());
    }
    for (std::size_t l = 0; l < height; ++l) {
        std::string line(margin, ' ');
        for (std::size_t i = 0; i < wide.size(); ++i)
            line +=
                report::padded(l < lines[i].size() ? lines[i][l] : std::string{}, wide[i] + gap);
        line.erase(line.find_last_not_of(' ') + 1);
        out += (is_head ? pen.faint(line) : line) + "\n";
    }
}

void add_table(std::string& out, const fleet_table& t, const ink& pen) {
    out += "\n";
    for (const auto& line : report::wrapped(pen.text(t.title), pen.width()))
        out += pen.strong(line) + "\n";
    const auto wide = fitted(t, pen);
    add_row(out, t.head, wide, pen, true);
    const auto shown = std::min(t.rows.size(), most_rows);
    for (std::size_t i = 0; i < shown; ++i) add_row(out, t.rows[i], wide, pen, false);
    auto notes = t.notes;
    if (shown < t.rows.size())
        notes.insert(notes.begin(), fmt::format("{} more rows are in the HTML and JSON reports.",
                                                t.rows.size() - shown));
    for (const auto& note : notes)
        for (const auto& line : report::wrapped(pen.text(note), pen.width() - margin))
            out += std::string(margin, ' ') + pen.faint(line) + "\n";
}

}  // namespace

std::string fleet_text(const fleet_answer& a, const terminal_style& style) {
    constexpr int widest = 100;
    auto narrow = style;
    narrow.width = std::min(narrow.width, widest);
    const ink pen{narrow};
    const auto story = report::story_of(a);
    std::string out;
    for (const auto& line : report::wrapped(pen.text(story.title), pen.width()))
        out += pen.strong(line) + "\n";
    for (const auto& line : report::wrapped(pen.text(story.circumstances), pen.width()))
        out += pen.faint(line) + "\n";
    for (const auto& c : story.chapters) report::add_paragraphs(out, c.heading, c.answers, pen);
    for (const auto& t : story.tables) add_table(out, t, pen);
    report::add_paragraphs(out, "Mind", story.remarks, pen);
    return out;
}

}  // namespace cvrig
