#include "rig/history/baseline.hpp"

#include <fmt/format.h>

namespace cvrig::history {

namespace {

std::optional<baseline> baseline_in(database& in, const sql_row& row) {
    auto run = run_of_id(in, row.whole(1));
    if (!run) return std::nullopt;
    return baseline{row.whole(0), std::move(*run), row.text(2), row.text(3), row.text(4)};
}

}  // namespace

baseline approve(database& in, const stored_run& run, const approval& by) {
    if (run.is_partial && by.note.empty())
        throw store_error{fmt::format(
            "Run {} judged only a part of its expectation file, so that the rest would have no "
            "baseline; approve a whole run, or say with --note why this one will do.",
            run.id)};
    const bool will_do = run.outcome == verdict::pass || run.outcome == verdict::skipped;
    if (!will_do && by.note.empty())
        throw store_error{fmt::format(
            "Run {} ended '{}', and only a run in which nothing failed or was left open becomes a "
            "baseline; say with --note why this one will do.",
            run.id, in_words(run.outcome))};
    const auto rows = in.query(
        "INSERT INTO baselines (run, approved, approved_by, note) VALUES ($1, $2, $3, $4) "
        "RETURNING id",
        {run.id, by.when, by.who, by.note});
    return {rows.front().whole(0), run, by.when, by.who, by.note};
}

std::vector<baseline> list_baselines(database& in) {
    std::vector<baseline> out;
    for (const auto& row :
         in.query("SELECT id, run, approved, approved_by, note FROM baselines ORDER BY id DESC"))
        if (auto one = baseline_in(in, row)) out.push_back(std::move(*one));
    return out;
}

std::optional<baseline> baseline_of(database& in, const subject& of) {
    const auto rows = in.query(
        "SELECT a.id, a.run, a.approved, a.approved_by, a.note FROM baselines a JOIN runs r ON "
        "r.id = a.run "
        "JOIN units u ON u.id = r.unit JOIN benches n ON n.id = r.bench "
        "WHERE u.module = $1 AND u.name = $2 AND n.name = $3 ORDER BY a.id DESC LIMIT 1",
        {of.module, of.unit, of.bench});
    if (rows.empty()) return std::nullopt;
    return baseline_in(in, rows.front());
}

}  // namespace cvrig::history
