#include "rig/report/columns.hpp"

#include <algorithm>

#include "rig/report/text.hpp"

namespace cvrig::report {

namespace {

constexpr std::size_t margin = 2, gap = 2, narrowest = 4;
using widths = std::vector<std::size_t>;

/// As wide as the widest cell; where that does not fit, the widest column gives way.
widths fitted(const text_columns& t, const ink& pen) {
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
        lines.push_back(wrapped(pen.text(i < cells.size() ? cells[i] : std::string{}), wide[i]));
        height = std::max(height, lines.back().size());
    }
    for (std::size_t l = 0; l < height; ++l) {
        std::string line(margin, ' ');
        for (std::size_t i = 0; i < wide.size(); ++i)
            line += padded(l < lines[i].size() ? lines[i][l] : std::string{}, wide[i] + gap);
        line.erase(line.find_last_not_of(' ') + 1);
        out += (is_head ? pen.faint(line) : line) + "\n";
    }
}

}  // namespace

void add_columns(std::string& out, const text_columns& table, std::size_t most_rows,
                 const ink& pen) {
    const auto wide = fitted(table, pen);
    add_row(out, table.head, wide, pen, true);
    const auto shown = std::min(table.rows.size(), most_rows);
    for (std::size_t i = 0; i < shown; ++i) add_row(out, table.rows[i], wide, pen, false);
}

}  // namespace cvrig::report
