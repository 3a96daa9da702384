#include "rig/report/wiring_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "rig/report/ink.hpp"
#include "rig/report/paragraphs.hpp"
#include "rig/report/text.hpp"
#include "rig/report/wiring_words.hpp"

namespace cvrig {

namespace {

using report::ink;
using report::padded;

using row = std::array<std::string, 4>;

std::vector<row> rows_of(const wiring_card& card, const ink& pen) {
    std::vector<row> out{{"", "from", "to", "carries"}};
    for (std::size_t i = 0; i < card.wires.size(); ++i) {
        const auto& w = card.wires[i];
        out.push_back({fmt::format("{}", i + 1), pen.text(report::from_in_words(w)),
                       pen.text(report::to_in_words(w)), pen.text(w.carries)});
    }
    return out;
}

std::array<std::size_t, 4> widths_of(const std::vector<row>& rows) {
    std::array<std::size_t, 4> out{};
    for (const auto& r : rows)
        for (std::size_t c = 0; c < r.size(); ++c)
            out[c] = std::max(out[c], report::columns_of(r[c]));
    return out;
}

void add_table(std::string& out, const wiring_card& card, const ink& pen) {
    const auto rows = rows_of(card, pen);
    const auto widths = widths_of(rows);
    for (std::size_t i = 0; i < rows.size(); ++i) {
        std::string line{"  "};
        for (std::size_t c = 0; c < rows[i].size(); ++c)
            line += c + 1 < rows[i].size() ? padded(rows[i][c], widths[c] + 2) : rows[i][c];
        out += (i == 0 ? pen.faint(line) : line) + "\n";
    }
}

}  // namespace

std::string wiring_text(const wiring_card& card, const terminal_style& style) {
    const ink pen{style};
    std::string out = pen.strong(pen.text(report::wiring_title(card))) + "\n";
    if (card.has_cables()) {
        out += "\n";
        add_table(out, card, pen);
    }
    report::add_paragraphs(out, "Notes", card.notes, pen);
    report::add_paragraphs(out, "Mind", card.cautions, pen);
    return out;
}

}  // namespace cvrig
