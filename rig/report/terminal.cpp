#include "rig/report/terminal.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/report/bench_table.hpp"
#include "rig/report/check_map.hpp"
#include "rig/report/check_table.hpp"
#include "rig/report/groups.hpp"
#include "rig/report/ink.hpp"
#include "rig/report/phrases.hpp"
#include "rig/report/text.hpp"

namespace cvrig {

namespace {

using report::ink;
using report::padded;
using report::run_layout;

/// One paragraph with a hanging indent: `first` opens the first line, spaces the others.
void paragraph(std::string& out, const ink& pen, std::string_view first, std::string_view body) {
    const auto indent = report::columns_of(first);
    const auto lines = report::wrapped(pen.text(body), pen.width() - indent);
    for (std::size_t i = 0; i < lines.size(); ++i) {
        out += i == 0 ? std::string{first} : std::string(indent, ' ');
        out += lines[i] + "\n";
    }
}

std::string upper_case(std::string_view word) {
    std::string upper{word};
    for (char& c : upper) c = static_cast<char>(c >= 'a' && c <= 'z' ? c - 'a' + 'A' : c);
    return upper;
}

std::string circumstances(const run_result& run, const run_layout& layout, const ink& pen) {
    std::string line;
    const auto add = [&](const std::string& part) {
        if (part.empty()) return;
        if (!line.empty()) line += pen.dot();
        line += part;
    };
    if (!run.bench_name.empty()) add(fmt::format("bench {}", pen.text(run.bench_name)));
    add(pen.text(run.link));
    add(report::counted(run.takes.size(), "take", "takes"));
    add(show(run.sound.value(), dimension::seconds, 3) + " of sound");
    add(pen.text(run.started));
    if (!layout.fixed.empty()) add(fmt::format("throughout: {}", pen.text(in_words(layout.fixed))));
    return line;
}

void add_headline(std::string& out, const run_result& run, const run_layout& layout,
                  const ink& pen) {
    const auto v = run.outcome();
    const auto word = upper_case(in_words(v));
    const std::size_t indent = word.size() + 3;
    const auto rule = pen.tinted(v, pen.rule(pen.width())) + "\n";
    out += rule;
    const auto named = report::wrapped(pen.text(report::specimen(run)), pen.width() - indent);
    for (std::size_t i = 0; i < named.size(); ++i) {
        out += i == 0 ? fmt::format(" {}  ", pen.tinted(v, word)) : std::string(indent, ' ');
        out += pen.strong(named[i]) + "\n";
    }
    const std::string margin(indent, ' ');
    for (const auto& l : report::wrapped(report::tally(run), pen.width() - indent)) {
        out += margin + l + "\n";
    }
    const auto ready = report::prepared_text(run);
    for (const auto& l : report::wrapped(pen.text(ready), pen.width() - indent)) {
        if (!l.empty()) out += margin + pen.faint(l) + "\n";
    }
    const auto when = circumstances(run, layout, pen);
    for (const auto& l : report::wrapped(when, pen.width() - indent)) {
        out += margin + pen.faint(l) + "\n";
    }
    out += rule;
}

void add_takes(std::string& out, const run_result& run, const run_layout& layout, const ink& pen) {
    bool any = false;
    report::explainer why;
    for (const auto& t : run.takes) {
        const auto troubles = report::troubles_of(t);
        if (troubles.empty()) continue;
        if (!any) out += fmt::format("\n{}\n", pen.strong("Takes with problems"));
        any = true;
        std::string checks;
        for (const auto& c : t.checks) checks += (checks.empty() ? "" : ", ") + c;
        auto body = fmt::format("{} ({})", checks, layout.label(t.choice));
        if (t.attempt > 1) body += fmt::format(", attempt {}", t.attempt);
        paragraph(out, pen, fmt::format("  {:>4}  ", t.number), body + ":");
        for (const auto& p : why.of(troubles)) paragraph(out, pen, "        ", p);
    }
}

void add_next(std::string& out, const run_result& run, const ink& pen) {
    out += fmt::format("\n{}\n", pen.strong("Next"));
    int n = 0;
    for (const auto& step : report::next_steps(run)) {
        paragraph(out, pen, fmt::format("  {}. ", ++n), step);
    }
}

}  // namespace

std::string terminal_table(const run_result& run, const terminal_style& style) {
    const ink pen{style};
    const auto layout = report::laid_out(run);
    std::string out;
    add_headline(out, run, layout, pen);
    out += report::check_map(layout, pen);
    report::add_check_tables(out, run, layout, pen);
    add_takes(out, run, layout, pen);
    report::add_bench_table(out, run, pen);
    add_next(out, run, pen);
    return out;
}

}  // namespace cvrig
