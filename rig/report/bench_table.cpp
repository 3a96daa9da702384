#include "rig/report/bench_table.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/report/phrases.hpp"
#include "rig/report/text.hpp"

namespace cvrig::report {

namespace {

/// A paragraph with a hanging indent under its mark.
void add_line(std::string& out, const ink& pen, const std::string& mark, std::string_view body) {
    const std::size_t indent = columns_of(mark) + 4;
    bool first = true;
    for (const auto& line : wrapped(pen.text(body), pen.width() - indent)) {
        out += first ? fmt::format("  {}  ", mark) : std::string(indent, ' ');
        out += line + "\n";
        first = false;
    }
}

std::string what_was_read(const finding& f, double coverage_factor) {
    auto line = f.name;
    if (f.measured && !f.measured->at.empty()) line += ", " + f.measured->at;
    if (f.measured || f.answered) line += fmt::format(": {}", reading_text(f, coverage_factor));
    if (!f.reason.empty()) line += fmt::format(". {}", sentence(f.reason));
    return line;
}

void add_proof(std::string& out, const check_result& proof, const ink& pen,
               double coverage_factor) {
    const auto met = std::ranges::count(proof.findings, verdict::pass, &finding::outcome);
    out +=
        fmt::format("  {}: {} of {} proven\n", pen.text(proof.check), met, proof.findings.size());
    for (const auto& f : proof.findings) {
        if (f.outcome == verdict::pass) continue;
        const auto mark = pen.mark(f.outcome);
        add_line(out, pen, mark, what_was_read(f, coverage_factor));
    }
}

}  // namespace

void add_bench_table(std::string& out, const run_result& run, const ink& pen) {
    if (run.bench.is_empty()) return;
    out += fmt::format("\n{}\n", pen.strong("The bench"));
    for (const auto& proof : run.bench.proofs) add_proof(out, proof, pen, run.coverage_factor);
    for (const auto& fact : run.bench.facts) add_line(out, pen, "-", sentence(fact));
    if (!run.bench.cannot_exclude.empty()) {
        out += "  This bench cannot exclude:\n";
        for (const auto& line : run.bench.cannot_exclude) add_line(out, pen, "-", sentence(line));
    }
}

}  // namespace cvrig::report
