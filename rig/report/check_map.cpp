#include "rig/report/check_map.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <span>

#include "rig/report/map_columns.hpp"
#include "rig/report/text.hpp"

namespace cvrig::report {

namespace {

using choices = std::span<const setting_choice>;

constexpr std::size_t cell = 9;  ///< columns of a verdict's cell, without its gap
constexpr std::size_t narrowest_others = 24;

std::size_t width_of_names(const run_layout& layout, const ink& pen) {
    std::size_t names = 5;
    for (const auto& g : layout.checks) names = std::max(names, columns_of(pen.text(g.check)));
    return std::min<std::size_t>(names, 18);
}

/// Names of the choices, one column each, on as many lines as the longest needs.
std::vector<std::string> header(const run_layout& layout, choices own, const ink& pen) {
    std::vector<std::vector<std::string>> labels;
    std::size_t tall = 0;
    for (const auto& choice : own) {
        labels.push_back(wrapped(pen.text(layout.label(choice)), cell));
        tall = std::max(tall, labels.back().size());
    }
    std::vector<std::string> out(tall);
    for (std::size_t row = 0; row < tall; ++row) {
        for (const auto& label : labels) {
            out[row] += fmt::format(" {}", padded(row < label.size() ? label[row] : "", cell));
        }
    }
    return out;
}

/// The verdicts of one check in the same columns, padded to their width.
std::string verdicts(const check_group& group, const run_layout& layout, choices own,
                     const ink& pen) {
    std::string line;
    for (const auto& choice : own) {
        const auto v = layout.outcome_of(group, choice);
        const auto mark = v ? pen.mark(*v) : std::string{};
        line +=
            fmt::format(" {}{:{}}", v ? pen.tinted(*v, mark) : mark, "", cell - columns_of(mark));
    }
    return line;
}

/// The verdicts of one check in the choices that have no column, each with its choice.
std::vector<std::string> others(const check_group& group, const run_layout& layout, choices shared,
                                std::size_t width, const ink& pen) {
    std::vector<std::string> out;
    for (const auto& choice : shared) {
        const auto v = layout.outcome_of(group, choice);
        if (!v) continue;
        const auto mark = pen.mark(*v);
        const auto indent = columns_of(mark) + 1;
        const auto label = wrapped(pen.text(layout.label(choice)), width - indent);
        for (std::size_t i = 0; i < label.size(); ++i) {
            out.push_back(i == 0 ? fmt::format("{} {}", pen.tinted(*v, mark), label[i])
                                 : std::string(indent, ' ') + label[i]);
        }
    }
    return out;
}

void add_line(std::string& out, const std::string& line) {
    out += line.substr(0, line.find_last_not_of(' ') + 1) + "\n";
}

/// One table: names, some columns, and the other choices if `shared` has any.
void add_block(std::string& out, const run_layout& layout, choices own, choices shared,
               const ink& pen) {
    const auto names = width_of_names(layout, pen);
    const auto taken = 1 + names + own.size() * (cell + 1);
    const std::string margin(taken, ' ');
    out += '\n';
    auto head = header(layout, own, pen);
    if (!shared.empty()) {
        if (head.empty()) head.emplace_back();
        head[0] += own.empty() ? " settings" : " other settings";
    }
    for (const auto& line : head) {
        const auto shown = fmt::format(" {:{}}{}", "", names, line);
        out += pen.faint(shown.substr(0, shown.find_last_not_of(' ') + 1)) + "\n";
    }
    for (const auto& g : layout.checks) {
        const auto name = padded(clipped(pen.text(g.check), names), names);
        const auto cells = fmt::format(" {}{}", name, verdicts(g, layout, own, pen));
        const auto rest = shared.empty() ? std::vector<std::string>{}
                                         : others(g, layout, shared, pen.width() - taken - 1, pen);
        add_line(out, rest.empty() ? cells : fmt::format("{} {}", cells, rest[0]));
        for (std::size_t i = 1; i < rest.size(); ++i) {
            add_line(out, fmt::format("{} {}", margin, rest[i]));
        }
    }
}

}  // namespace

std::string check_map(const run_layout& layout, const ink& pen) {
    std::string out;
    if (layout.choices.size() < 2) return out;
    const auto columns = columns_of_map(layout);
    const choices shared{columns.shared};
    choices own{columns.own};
    const auto room = pen.width() - width_of_names(layout, pen) - 2;
    const auto a_row = std::max<std::size_t>(room / (cell + 1), 1);
    while (own.size() > a_row) {
        add_block(out, layout, own.first(a_row), {}, pen);
        own = own.subspan(a_row);
    }
    if (shared.empty() || room >= own.size() * (cell + 1) + narrowest_others) {
        add_block(out, layout, own, shared, pen);
    } else {
        add_block(out, layout, own, {}, pen);
        add_block(out, layout, {}, shared, pen);
    }
    return out;
}

}  // namespace cvrig::report
