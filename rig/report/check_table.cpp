#include "rig/report/check_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "rig/report/phrases.hpp"
#include "rig/report/text.hpp"

namespace cvrig::report {

namespace {

constexpr std::size_t margin = 2, gap = 2, verdict_width = 9, narrowest = 5, reading_favour = 9;

/// Demand, choice, reading, limit.
using cells = std::array<std::string, 4>;
using widths = std::array<std::size_t, 4>;

cells cells_of(const demand_group& demand, const demand_row& row, const run_layout& layout,
               const ink& pen, double coverage_factor) {
    return {pen.text(title_of(demand)), pen.text(layout.label(row.where->choice)),
            pen.text(reading_text(*row.what, coverage_factor)), pen.text(demand_text(*row.what))};
}

/// As wide as the widest cell; where that does not fit, the widest columns give way.
widths fitted(const run_result& run, const run_layout& layout, const ink& pen) {
    widths all{6, 0, 7, 5};
    for (const auto& group : layout.checks) {
        for (const auto& demand : group.demands) {
            for (const auto& row : demand.rows) {
                const auto text = cells_of(demand, row, layout, pen, run.coverage_factor);
                for (std::size_t i = 0; i < all.size(); ++i) {
                    all[i] = std::max(all[i], columns_of(text[i]));
                }
            }
        }
    }
    if (layout.choices.size() < 2) all[1] = 0;
    const std::size_t room = pen.width() - margin - 4 * gap - verdict_width;
    // A reading is hardest to read when it is broken, so its column gives way last.
    const auto generous = [&](std::size_t i) { return all[i] + (i == 2 ? 0 : reading_favour); };
    while (all[0] + all[1] + all[2] + all[3] > room) {
        std::size_t widest = 0;
        for (std::size_t i = 1; i < all.size(); ++i) {
            if (generous(i) > generous(widest)) widest = i;
        }
        if (all[widest] <= narrowest) break;
        --all[widest];
    }
    return all;
}

/// Cells side by side, each wrapped in its column; the verdict ends the first line.
void add_row(std::string& out, const cells& text, const widths& wide,
             const std::string& verdict_mark) {
    std::array<std::vector<std::string>, 4> lines;
    std::size_t height = 1;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (wide[i] == 0) continue;
        lines[i] = wrapped(text[i], wide[i]);
        height = std::max(height, lines[i].size());
    }
    for (std::size_t l = 0; l < height; ++l) {
        std::string line(margin, ' ');
        for (std::size_t i = 0; i < text.size(); ++i) {
            if (wide[i] == 0) continue;
            line += padded(l < lines[i].size() ? lines[i][l] : std::string{}, wide[i] + gap);
        }
        if (l == 0) line += verdict_mark;
        out += line.substr(0, line.find_last_not_of(' ') + 1) + "\n";
    }
}

void add_explanation(std::string& out, const std::vector<std::string>& lines, const ink& pen) {
    const std::size_t indent = margin + 2;
    for (const auto& why : lines) {
        bool first = true;
        for (const auto& line : wrapped(pen.text(why), pen.width() - indent - 2)) {
            out += std::string(indent, ' ');
            out += first ? pen.faint(pen.branch()) : std::string(2, ' ');
            out += line + "\n";
            first = false;
        }
    }
}

void add_demand(std::string& out, const demand_group& demand, const run_layout& layout,
                const widths& wide, explainer& why, const ink& pen, double coverage_factor) {
    std::string last_limit;
    bool first = true;
    for (const auto& row : demand.rows) {
        auto text = cells_of(demand, row, layout, pen, coverage_factor);
        const auto limit = text[3];
        if (!first) {
            text[0].clear();
            if (limit == last_limit) text[3] = std::string{pen.ditto()};
        }
        const auto v = row.what->outcome;
        add_row(out, text, wide, pen.tinted(v, pen.mark(v)));
        add_explanation(out, why.of(*row.what), pen);
        last_limit = limit;
        first = false;
    }
}

/// The likeliest causes, with a hanging indent.
void add_causes(std::string& out, const std::vector<std::string>& causes, const ink& pen) {
    constexpr std::string_view head = "Likeliest cause, ";
    for (const auto& cause : causes) {
        bool first = true;
        const auto text = std::string{head} + cause;
        for (const auto& line : wrapped(pen.text(text), pen.width() - margin - 2)) {
            out += std::string(first ? margin : margin + 2, ' ') + line + "\n";
            first = false;
        }
    }
}

}  // namespace

void add_check_tables(std::string& out, const run_result& run, const run_layout& layout,
                      const ink& pen) {
    const auto wide = fitted(run, layout, pen);
    for (const auto& group : layout.checks) {
        explainer why;  // of this table alone, which may be read by itself
        const auto name = clipped(pen.text(group.check), pen.width());
        const auto reads = pen.text(group.reads);
        const auto room = pen.width() - std::min(columns_of(name) + 2, pen.width());
        out += fmt::format("\n{}", pen.strong(name));
        if (!reads.empty() && room > 8) {
            const auto lines = wrapped(reads, room);
            out += "  " + pen.faint(lines.front());
            for (std::size_t i = 1; i < lines.size(); ++i) {
                out += fmt::format("\n{:{}}{}", "", columns_of(name) + 2, pen.faint(lines[i]));
            }
        }
        out += "\n";
        for (const auto& demand : group.demands) {
            add_demand(out, demand, layout, wide, why, pen, run.coverage_factor);
        }
        if (group.demands.empty()) out += "  Nothing was judged.\n";
        add_causes(out, causes_of(group, layout), pen);
    }
}

}  // namespace cvrig::report
