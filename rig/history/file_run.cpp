#include "rig/history/file_run.hpp"

#include <fmt/format.h>

#include <map>
#include <tuple>

#include "rig/history/told_words.hpp"
#include "rig/platform/files.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::history {

namespace {

constexpr std::string_view of_report = "report ";

using evidence::told_check;
using evidence::told_finding;
using evidence::told_run;
using evidence::told_take;

/// The number of a row that is made unless it is there. `columns` are those that tell rows apart.
class row_finder {
public:
    row_finder(database& in, std::string table) : in_{in}, table_{std::move(table)} {}

    row_finder& with(const char* column, sql_value v) {
        columns_.emplace_back(column);
        values_.push_back(std::move(v));
        return *this;
    }
    /// Written with a new row, but of no account for which row it is.
    row_finder& noting(const char* column, sql_value v) {
        noted_columns_.emplace_back(column);
        noted_.push_back(std::move(v));
        return *this;
    }
    [[nodiscard]] std::int64_t id() const {
        if (const auto found = in_.query(selection(), values_); !found.empty())
            return found.front().whole(0);
        auto all = values_;
        all.insert(all.end(), noted_.begin(), noted_.end());
        // Another program may have made it in between: then this makes none.
        in_.execute(insertion(), all);
        return in_.query(selection(), values_).front().whole(0);
    }

private:
    [[nodiscard]] std::string selection() const {
        std::string where;
        for (std::size_t i = 0; i < columns_.size(); ++i)
            where += fmt::format("{}{} = ${}", i == 0 ? "" : " AND ", columns_[i], i + 1);
        return fmt::format("SELECT id FROM {} WHERE {}", table_, where);
    }
    [[nodiscard]] std::string insertion() const {
        std::string names, places;
        std::size_t n = 0;
        for (const auto* list : {&columns_, &noted_columns_})
            for (const auto& column : *list) {
                names += (n == 0 ? "" : ", ") + column;
                places += fmt::format("{}${}", n == 0 ? "" : ", ", n + 1);
                ++n;
            }
        return fmt::format("INSERT INTO {} ({}) VALUES ({}) ON CONFLICT DO NOTHING", table_, names,
                           places);
    }

    database& in_;
    std::string table_;
    std::vector<std::string> columns_, noted_columns_;
    sql_values values_, noted_;
};

sql_value whole_or_null(std::optional<std::uint64_t> n) {
    if (!n) return std::monostate{};
    return static_cast<std::int64_t>(*n);
}

std::int64_t build_of(database& in, const told_run& r) {
    return row_finder{in, "builds"}
        .with("module", r.module)
        .with("name", r.build_name)
        .with("sha256", r.build_sha256)
        .with("commit_text", r.commit)
        .noting("version", r.version)
        .noting("size_bytes", whole_or_null(r.size_bytes))
        .noting("first_seen", r.started)
        .id();
}

std::int64_t unit_of(database& in, const told_run& r) {
    return row_finder{in, "units"}.with("module", r.module).with("name", r.unit).id();
}

std::int64_t bench_of(database& in, const told_run& r) {
    return row_finder{in, "benches"}.with("name", r.bench_name).with("link", r.link).id();
}

/// How many demands have that verdict, without those that do not apply.
std::int64_t count_of(const told_run& r, verdict v) {
    std::int64_t n = 0;
    for (const auto& c : r.checks)
        for (const auto& f : c.findings)
            if (f.outcome == v && !f.does_not_apply) ++n;
    return n;
}

/// Where a run's rows belong.
struct run_row {
    std::int64_t run{0}, unit{0}, bench{0};
};

run_row add_run(database& in, const told_run& r, const run_circumstances& about) {
    run_row row{0, unit_of(in, r), bench_of(in, r)};
    const auto rows = in.query(
        "INSERT INTO runs (run_key, build, unit, bench, started, filed, verdict, passed, failed, "
        "unsure, skipped, "
        "coverage_factor, sound_s, wall_s, expectations_sha256, bench_sha256, rig_version, "
        "report_folder, partial) "
        "VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, "
        "$19) "
        "ON CONFLICT DO NOTHING RETURNING id",
        {about.key, build_of(in, r), row.unit, row.bench, r.started, about.filed,
         std::string{in_words(r.outcome)}, count_of(r, verdict::pass), count_of(r, verdict::fail),
         count_of(r, verdict::unsure), count_of(r, verdict::skipped), r.coverage_factor,
         number_or_null(r.sound_s), number_or_null(r.wall_s), r.expectations_sha256, r.bench_sha256,
         r.rig_version, about.report_folder, std::int64_t{r.is_partial ? 1 : 0}});
    if (!rows.empty()) row.run = rows.front().whole(0);
    return row;
}

void add_reading(database& in, const run_row& row, std::int64_t place, std::int64_t demand,
                 const evidence::told_reading& m) {
    in.execute(
        "INSERT INTO readings (run, place, demand, unit, bench, quantity, reading, "
        "standard_uncertainty, found_at, measurement_version, u_baseline) "
        "VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)",
        {row.run, place, demand, row.unit, row.bench, std::string{report::dimension_name(m.unit)},
         number_or_null(m.value), number_or_null(m.standard_uncertainty), text_or_null(m.at),
         std::int64_t{m.measurement_version}, m.u_baseline});
}

void add_finding(database& in, const run_row& row, std::int64_t place, std::int64_t demand,
                 const told_finding& f) {
    const auto answered = f.answered.value_or(evidence::told_answer{});
    in.execute(
        "INSERT INTO findings (run, place, demand, verdict, reason, demanded, lower, upper, "
        "answer, "
        "probability, probability_of_expected, does_not_apply) "
        "VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)",
        {row.run, place, demand, std::string{in_words(f.outcome)}, text_or_null(f.reason),
         text_or_null(f.demand), number_or_null(f.lower), number_or_null(f.upper),
         text_or_null(answered.text), number_or_null(answered.probability),
         number_or_null(answered.probability_of_expected), std::int64_t{f.does_not_apply ? 1 : 0}});
    if (f.measured) add_reading(in, row, place, demand, *f.measured);
}

void add_findings(database& in, const run_row& row, const told_run& r) {
    std::int64_t place = 0;
    std::map<std::tuple<std::string, std::string, std::string>, std::int64_t> seen;
    for (const auto& c : r.checks) {
        const auto settings = text_of(c.choice);
        for (const auto& f : c.findings) {
            const auto nth = seen[{c.check, settings, f.name}]++;
            const auto demand = row_finder{in, "demands"}
                                    .with("module", r.module)
                                    .with("check_name", c.check)
                                    .with("settings", settings)
                                    .with("name", f.name)
                                    .with("nth", nth)
                                    .id();
            add_finding(in, row, ++place, demand, f);
        }
    }
}

std::string joined(const std::vector<std::string>& lines) {
    std::string out;
    for (const auto& line : lines) out += (out.empty() ? "" : "\n") + line;
    return out;
}

void add_takes(database& in, const run_row& row, const told_run& r,
               const run_circumstances& about) {
    std::int64_t place = 0;
    const auto folder = about.takes_kept ? about.report_folder + "/takes" : std::string{};
    for (const auto& t : r.takes)
        in.execute(
            "INSERT INTO takes (run, place, number, attempt, settings, length_s, problems, folder) "
            "VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
            {row.run, ++place, std::int64_t{t.number}, std::int64_t{t.attempt}, text_of(t.choice),
             number_or_null(t.length_s), text_or_null(joined(t.problems)), text_or_null(folder)});
}

}  // namespace

filed_run file_run(database& in, const told_run& run, const run_circumstances& about) {
    const auto known = in.query("SELECT id FROM runs WHERE run_key = $1", {about.key});
    if (!known.empty()) return {known.front().whole(0), false};
    const auto row = add_run(in, run, about);
    if (row.run == 0)  // filed by somebody else in between
        return {in.query("SELECT id FROM runs WHERE run_key = $1", {about.key}).front().whole(0),
                false};
    add_findings(in, row, run);
    add_takes(in, row, run, about);
    return {row.run, true};
}

filed_run file_run_alone(database& in, const told_run& run, const run_circumstances& about) {
    transaction all{in};
    const auto filed = file_run(in, run, about);
    all.commit();
    return filed;
}

std::string key_of_report(std::string_view report_json) {
    return fmt::format("{}{}", of_report, sha256_of(report_json));
}

bool is_key_of_report(std::string_view key) noexcept {
    return key.starts_with(of_report);
}

}  // namespace cvrig::history
