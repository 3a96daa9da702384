#include "rig/report/history_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "rig/report/columns.hpp"
#include "rig/report/ink.hpp"
#include "rig/report/paragraphs.hpp"
#include "rig/report/phrases.hpp"
#include "rig/report/text.hpp"
#include "rig/report/told_text.hpp"

namespace cvrig {

namespace {

using history::stored_run;
using report::counted;
using report::ink;
using report::text_columns;

constexpr std::size_t all_rows = static_cast<std::size_t>(-1);

ink narrow_pen(const terminal_style& style) {
    constexpr int widest = 120;
    auto narrow = style;
    narrow.width = std::min(narrow.width, widest);
    return ink{narrow};
}

/// "2026-11-30 10:00" for "2026-11-30T10:00:00Z".
std::string minute_of(const std::string& iso) {
    constexpr std::size_t day = 10, minute = 16;
    if (iso.size() < minute || iso[day] != 'T') return iso;
    auto text = iso.substr(0, minute);
    text[day] = ' ';
    return text;
}

/// "34 of 42"
std::string met_of(const stored_run& r) {
    return fmt::format("{} of {}{}", r.passed, r.passed + r.failed + r.unsure + r.skipped,
                       r.is_partial ? ", part" : "");
}

std::string tally_of(const stored_run& r) {
    auto text = fmt::format("{} met", r.passed);
    if (r.failed > 0) text += fmt::format(", {} not met", r.failed);
    if (r.unsure > 0) text += fmt::format(", {} unsure", r.unsure);
    if (r.skipped > 0) text += fmt::format(", {} skipped", r.skipped);
    return text;
}

std::string or_dash(const std::string& text) {
    return text.empty() ? std::string(1, '-') : text;
}

std::string titled(const evidence::told_check& c, const setting_choice& left_out) {
    const auto settings = in_words(without(c.choice, left_out));
    return settings.empty() ? c.check : fmt::format("{} ({})", c.check, settings);
}

/// The findings that `wanted` takes, in the run's order.
template <class Wanted>
text_columns findings_of(const evidence::told_run& run, const ink& pen, const Wanted& wanted) {
    text_columns table{{"check", "demand", "read", "demanded", "verdict"}, {}};
    const auto common = evidence::settings_throughout(run);
    for (const auto& c : run.checks)
        for (const auto& f : c.findings)
            if (wanted(f))
                table.rows.push_back({titled(c, common), f.name,
                                      report::told_text(f, run.coverage_factor), or_dash(f.demand),
                                      f.does_not_apply ? "does not apply" : pen.mark(f.outcome)});
    return table;
}

void add_titled(std::string& out, const std::string& title, const text_columns& table,
                const ink& pen) {
    if (table.rows.empty()) return;
    out += fmt::format("\n{}\n", pen.strong(title));
    report::add_columns(out, table, all_rows, pen);
}

std::vector<std::string> facts_of(const stored_run& r, const evidence::told_run& told) {
    std::vector<std::string> facts;
    const auto& b = r.build;
    facts.push_back(fmt::format("Build {}{}{}.", b.called(),
                                b.commit.empty() ? "" : fmt::format(", commit {}", b.commit),
                                b.size_bytes ? fmt::format(", {} bytes", *b.size_bytes) : ""));
    facts.push_back(fmt::format("Unit {}, bench {} ({}).", or_dash(r.unit), r.bench, r.link));
    facts.push_back(fmt::format("{}; cvrig {}.", counted(told.takes.size(), "take", "takes"),
                                told.rig_version));
    const auto page = std::filesystem::path{r.report_folder} / "report.html";
    if (!r.report_folder.empty())
        facts.push_back(
            history::has_its_report(r)
                ? fmt::format("Report: {}", page.string())
                : fmt::format("Its report was in {} and is there no more.", r.report_folder));
    return facts;
}

std::vector<std::string> changes_in_words(const history::trend& t) {
    std::vector<std::string> out;
    for (const auto& c : t.changes) {
        const auto& p = t.points[c.point];
        out.push_back(fmt::format("From build {}{} (run {}) on it is {} instead of {}.", p.build,
                                  p.commit.empty() ? "" : fmt::format(" ({})", p.commit), p.run,
                                  show(c.after, t.unit), show(c.before, t.unit)));
    }
    if (out.empty())
        out.emplace_back("No build changed it by more than its scatter and uncertainty.");
    return out;
}

std::vector<std::string> remarks_on(const history::trend& t) {
    std::vector<std::string> out;
    if (t.is_cut) out.emplace_back("Older runs are left out; --most shows more.");
    if (t.is_measured_otherwise)
        out.emplace_back(
            "cvrig changed how it measures this; changes are looked for among the readings of the "
            "latest way.");
    return out;
}

std::string limits_of(const history::trend_point& p, dimension unit) {
    if (p.lower && p.upper)
        return fmt::format("{} to {}", show(*p.lower, unit), show(*p.upper, unit));
    if (p.upper) return fmt::format("at most {}", show(*p.upper, unit));
    if (p.lower) return fmt::format("at least {}", show(*p.lower, unit));
    return "-";
}

}  // namespace

std::string runs_text(std::span<const stored_run> runs, const terminal_style& style) {
    const auto pen = narrow_pen(style);
    text_columns table{{"run", "started (UTC)", "build", "commit", "unit", "bench", "verdict", ""},
                       {}};
    for (const auto& r : runs)
        table.rows.push_back({fmt::format("{}", r.id), minute_of(r.started), r.build.called(),
                              or_dash(r.build.commit), or_dash(r.unit), r.bench,
                              pen.mark(r.outcome), met_of(r)});
    std::string out;
    report::add_columns(out, table, all_rows, pen);
    return out;
}

std::string run_text(const stored_run& run, const evidence::told_run& told,
                     const terminal_style& style) {
    const auto pen = narrow_pen(style);
    std::string out = pen.strong(pen.text(fmt::format("Run {}: {} {}", run.id, run.build.module,
                                                      run.build.called()))) +
                      "  " + pen.tinted(run.outcome, pen.mark(run.outcome)) + "  " +
                      pen.faint(tally_of(run)) + "\n";
    report::add_paragraphs(out, "What was judged", facts_of(run, told), pen);
    const auto is_met = [](const evidence::told_finding& f) { return f.outcome == verdict::pass; };
    add_titled(
        out, "Not met, unsure or skipped",
        findings_of(told, pen, [&](const auto& f) { return !is_met(f) && !f.does_not_apply; }),
        pen);
    add_titled(out, "Met", findings_of(told, pen, is_met), pen);
    return out;
}

std::vector<std::string> other_subjects(const stored_run& a, const stored_run& b) {
    std::vector<std::string> out;
    const auto differ = [&](const char* what, const std::string& first, const std::string& second,
                            const char* means) {
        if (first != second)
            out.push_back(fmt::format("These are two {} ({} and {}): {}", what, or_dash(first),
                                      or_dash(second), means));
    };
    differ("modules", a.build.module, b.build.module, "they have little to do with each other.");
    differ("units", a.unit, b.unit, "what differs may be the units, not the builds.");
    differ("benches", a.bench, b.bench, "what differs may be the benches, not the builds.");
    if (a.bench == b.bench)
        differ("links to the module", a.link, b.link, "what differs may be these, not the builds.");
    if (a.unit.empty() && b.unit.empty())
        out.push_back("Neither run names its unit: what differs may be the units, not the builds.");
    return out;
}

std::string demands_text(std::span<const history::stored_demand> demands,
                         const terminal_style& style) {
    const auto pen = narrow_pen(style);
    text_columns table{{"no.", "reading"}, {}};
    for (const auto& d : demands) table.rows.push_back({fmt::format("{}", d.id), d.called()});
    std::string out;
    report::add_columns(out, table, all_rows, pen);
    return out;
}

std::string trend_text(const history::trend& t, const terminal_style& style) {
    const auto pen = narrow_pen(style);
    std::string out = pen.strong(pen.text(t.demand.called())) + "\n" +
                      pen.faint(pen.text(fmt::format("{}, unit {}, bench {}", t.of.module,
                                                     or_dash(t.of.unit), t.of.bench))) +
                      "\n\n";
    text_columns table{{"run", "started (UTC)", "build", "read", "demanded", "verdict", ""}, {}};
    for (std::size_t i = 0; i < t.points.size(); ++i) {
        const auto& p = t.points[i];
        const bool changes =
            std::ranges::any_of(t.changes, [&](const auto& c) { return c.point == i; });
        table.rows.push_back(
            {fmt::format("{}", p.run), minute_of(p.started), p.build,
             p.reading ? show(*p.reading, t.coverage_factor * p.standard_uncertainty.value_or(0.0),
                              t.unit)
                       : "no reading",
             limits_of(p, t.unit), pen.mark(p.outcome), changes ? "<- changes here" : ""});
    }
    report::add_columns(out, table, all_rows, pen);
    report::add_paragraphs(out, "Changes", changes_in_words(t), pen);
    report::add_paragraphs(out, "Mind", remarks_on(t), pen);
    return out;
}

std::string baselines_text(std::span<const history::baseline> baselines,
                           const terminal_style& style) {
    const auto pen = narrow_pen(style);
    text_columns table{{"approved (UTC)", "by", "run", "module", "build", "unit", "bench", "note"},
                       {}};
    for (const auto& b : baselines)
        table.rows.push_back({minute_of(b.approved), or_dash(b.approved_by),
                              fmt::format("{}", b.run.id), b.run.build.module, b.run.build.called(),
                              or_dash(b.run.unit), b.run.bench, or_dash(b.note)});
    std::string out;
    report::add_columns(out, table, all_rows, pen);
    return out;
}

}  // namespace cvrig
