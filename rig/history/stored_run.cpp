#include "rig/history/stored_run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "rig/history/file_run.hpp"
#include "rig/history/row_number.hpp"
#include "rig/history/told_words.hpp"

namespace cvrig::history {

namespace {

namespace fs = std::filesystem;

constexpr const char* columns =
    "SELECT r.id, b.id, b.module, b.name, b.version, b.commit_text, b.sha256, b.first_seen, "
    "b.size_bytes, u.name, "
    "n.name, n.link, r.started, r.verdict, r.passed, r.failed, r.unsure, r.skipped, "
    "r.expectations_sha256, "
    "r.bench_sha256, r.report_folder, r.run_key, r.partial FROM runs r JOIN builds b ON b.id = "
    "r.build JOIN "
    "units u ON "
    "u.id = r.unit "
    "JOIN benches n ON n.id = r.bench";

stored_build build_in(const sql_row& row, std::size_t at) {
    stored_build b{row.whole(at),    row.text(at + 1), row.text(at + 2), row.text(at + 3),
                   row.text(at + 4), row.text(at + 5), row.text(at + 6), {}};
    if (!row.is_null(at + 7)) b.size_bytes = row.whole(at + 7);
    return b;
}

stored_run run_in(const sql_row& row) {
    return {row.whole(0),
            build_in(row, 1),
            row.text(9),
            row.text(10),
            row.text(11),
            row.text(12),
            verdict_in(row.text(13)),
            row.whole(14),
            row.whole(15),
            row.whole(16),
            row.whole(17),
            row.text(18),
            row.text(19),
            row.text(20),
            row.text(21),
            row.whole(22) != 0};
}

std::vector<stored_run> runs_in(const sql_rows& rows) {
    std::vector<stored_run> out;
    for (const auto& row : rows) out.push_back(run_in(row));
    return out;
}

/// Conditions that are joined by AND.
class conditions {
public:
    void add(const char* sql, sql_value v) {
        values_.push_back(std::move(v));
        text_ += fmt::format("{}{}${}", text_.empty() ? " WHERE " : " AND ", sql, values_.size());
    }
    void add_text(const char* sql, const std::string& text) {
        if (!text.empty()) add(sql, text);
    }
    void add_raw(const std::string& sql) { text_ += (text_.empty() ? " WHERE " : " AND ") + sql; }
    [[nodiscard]] const std::string& text() const noexcept { return text_; }
    [[nodiscard]] sql_values& values() noexcept { return values_; }

private:
    std::string text_;
    sql_values values_;
};

constexpr std::size_t shortest_hash = 7;

/// The builds that a person may mean by a text, as a list for SQL; "0" if there is none.
std::string builds_called(database& in, const std::string& text) {
    const bool is_hash = text.size() >= shortest_hash &&
                         text.find_first_not_of("0123456789abcdef") == std::string::npos;
    const auto rows = in.query(
        "SELECT id FROM builds WHERE name = $1 OR version = $2 OR commit_text = $3 OR "
        "(sha256 = $4 AND sha256 <> '') OR sha256 LIKE $5 ORDER BY id DESC",
        {text, text, text, text, is_hash ? text + "%" : std::string{"no hash"}});
    std::string out;
    for (const auto& row : rows) out += fmt::format("{}{}", out.empty() ? "" : ", ", row.whole(0));
    return out.empty() ? "0" : out;
}

evidence::told_finding finding_in(const sql_row& row) {
    evidence::told_finding f;
    f.name = row.text(2);
    f.outcome = verdict_in(row.text(3));
    f.reason = row.text(4);
    f.demand = row.text(5);
    f.lower = row.number(6);
    f.upper = row.number(7);
    if (!row.is_null(8))
        f.answered = evidence::told_answer{row.text(8), row.number(9), row.number(10)};
    f.does_not_apply = row.whole(11) != 0;
    if (!row.is_null(12))
        f.measured = evidence::told_reading{row.number(13),
                                            row.number(14),
                                            quantity_in(row.text(12)),
                                            row.text(15),
                                            static_cast<int>(row.whole(16)),
                                            row.number(17).value_or(0.0)};
    return f;
}

std::vector<evidence::told_check> checks_of(database& in, std::int64_t run) {
    const auto rows = in.query(
        "SELECT d.check_name, d.settings, d.name, f.verdict, f.reason, f.demanded, f.lower, "
        "f.upper, f.answer, "
        "f.probability, f.probability_of_expected, f.does_not_apply, m.quantity, m.reading, "
        "m.standard_uncertainty, "
        "m.found_at, m.measurement_version, m.u_baseline FROM findings f JOIN demands d ON d.id = "
        "f.demand "
        "LEFT JOIN readings m ON m.run = f.run AND m.place = f.place WHERE f.run = $1 ORDER BY "
        "f.place",
        {run});
    std::vector<evidence::told_check> out;
    for (const auto& row : rows) {
        const auto choice = settings_in(row.text(1));
        if (out.empty() || out.back().check != row.text(0) || out.back().choice != choice)
            out.push_back({row.text(0), choice, {}});
        out.back().findings.push_back(finding_in(row));
    }
    return out;
}

std::vector<evidence::told_take> takes_of(database& in, std::int64_t run) {
    std::vector<evidence::told_take> out;
    for (const auto& row : in.query("SELECT number, attempt, settings, length_s, problems FROM "
                                    "takes WHERE run = $1 ORDER BY place",
                                    {run})) {
        evidence::told_take t{static_cast<int>(row.whole(0)),
                              static_cast<int>(row.whole(1)),
                              settings_in(row.text(2)),
                              row.number(3),
                              {}};
        if (!row.is_null(4)) t.problems.push_back(row.text(4));
        out.push_back(std::move(t));
    }
    return out;
}

}  // namespace

std::string stored_build::called() const {
    constexpr std::size_t shown = 12;
    if (!name.empty()) return name;
    if (!version.empty()) return version;
    return sha256.empty() ? "unnamed" : sha256.substr(0, shown);
}

std::vector<stored_run> list_runs(database& in, const run_question& q) {
    conditions where;
    where.add_text("b.module = ", q.module);
    where.add_text("u.name = ", q.unit);
    where.add_text("n.name = ", q.bench);
    if (q.outcome) where.add("r.verdict = ", std::string{in_words(*q.outcome)});
    if (q.build_id) where.add("r.build = ", *q.build_id);
    if (q.before) where.add("r.id < ", *q.before);
    if (!q.build.empty()) where.add_raw(fmt::format("r.build IN ({})", builds_called(in, q.build)));
    where.values().emplace_back(q.most);
    const auto* order = q.before ? "r.id DESC" : "r.started DESC, r.id DESC";
    return runs_in(in.query(fmt::format("{}{} ORDER BY {} LIMIT ${}", columns, where.text(), order,
                                        where.values().size()),
                            where.values()));
}

std::vector<build_with_runs> list_builds(database& in, std::optional<std::int64_t> before,
                                         std::int64_t most, std::int64_t most_runs) {
    conditions where;
    if (before) where.add("id < ", *before);
    where.values().emplace_back(most);
    const auto rows = in.query(
        fmt::format("SELECT id, module, name, version, commit_text, sha256, first_seen, size_bytes "
                    "FROM builds{} ORDER BY id DESC LIMIT ${}",
                    where.text(), where.values().size()),
        where.values());
    std::vector<build_with_runs> out;
    for (const auto& row : rows) {
        const auto build = build_in(row, 0);
        out.push_back({build, list_runs(in, {.module = {},
                                             .unit = {},
                                             .bench = {},
                                             .build = {},
                                             .build_id = build.id,
                                             .most = most_runs})});
    }
    return out;
}

std::optional<stored_run> run_of_id(database& in, std::int64_t id) {
    const auto rows = in.query(fmt::format("{} WHERE r.id = $1", columns), {id});
    if (rows.empty()) return std::nullopt;
    return run_in(rows.front());
}

bool has_its_report(const stored_run& run) {
    if (run.report_folder.empty()) return false;
    const fs::path folder{run.report_folder};
    std::error_code ignored;
    if (!fs::exists(folder / "report.html", ignored)) return false;
    // A job's folder is its own.
    if (!is_key_of_report(run.key)) return true;
    std::ifstream in{folder / "report.json", std::ios::binary};
    std::ostringstream text;
    text << in.rdbuf();
    return key_of_report(text.str()) == run.key;
}

stored_run find_run(database& in, const std::string& named) {
    if (named.empty())
        throw nothing_found{
            "A run without a name was asked for; name its number, 'latest' or a build."};
    if (const auto number = row_number(named))
        if (auto run = run_of_id(in, *number)) return *run;
    run_question q{
        .module = {}, .unit = {}, .bench = {}, .build = named == "latest" ? "" : named, .most = 1};
    const auto found = list_runs(in, q);
    if (!found.empty()) return found.front();
    q.build.clear();
    const auto latest = list_runs(in, q);
    if (latest.empty())
        throw nothing_found{
            fmt::format("The history {} holds no run yet; `cvrig run` files one.", in.address())};
    throw nothing_found{
        fmt::format("The history {} holds no run {}; name the number of a run (the latest is {}), "
                    "'latest', or a "
                    "build by its name, version, commit or hash; `cvrig history` lists them.",
                    in.address(), named, latest.front().id)};
}

evidence::told_run read_run(database& in, const stored_run& run) {
    evidence::told_run out;
    out.outcome = run.outcome;
    out.module = run.build.module;
    out.unit = run.unit;
    out.build_name = run.build.name;
    out.build_sha256 = run.build.sha256;
    out.commit = run.build.commit;
    out.version = run.build.version;
    if (run.build.size_bytes) out.size_bytes = static_cast<std::uint64_t>(*run.build.size_bytes);
    out.bench_name = run.bench;
    out.link = run.link;
    out.expectations_sha256 = run.expectations_sha256;
    out.bench_sha256 = run.bench_sha256;
    out.started = run.started;
    out.is_partial = run.is_partial;
    const auto rows = in.query(
        "SELECT rig_version, coverage_factor, sound_s, wall_s FROM runs WHERE id = $1", {run.id});
    if (rows.empty()) return out;
    out.rig_version = rows.front().text(0);
    out.coverage_factor = rows.front().number(1).value_or(2.0);
    out.sound_s = rows.front().number(2);
    out.wall_s = rows.front().number(3);
    out.checks = checks_of(in, run.id);
    out.takes = takes_of(in, run.id);
    return out;
}

}  // namespace cvrig::history
