#include "rig/report/fleet_text.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/report/columns.hpp"
#include "rig/report/fleet_story.hpp"
#include "rig/report/ink.hpp"
#include "rig/report/paragraphs.hpp"
#include "rig/report/text.hpp"

namespace cvrig {

namespace {

using report::fleet_table;
using report::ink;

constexpr std::size_t margin = 2, most_rows = 40;

void add_table(std::string& out, const fleet_table& t, const ink& pen) {
    out += "\n";
    for (const auto& line : report::wrapped(pen.text(t.title), pen.width()))
        out += pen.strong(line) + "\n";
    report::add_columns(out, {t.head, t.rows}, most_rows, pen);
    auto notes = t.notes;
    if (most_rows < t.rows.size())
        notes.insert(notes.begin(), fmt::format("{} more rows are in the HTML and JSON reports.",
                                                t.rows.size() - most_rows));
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
