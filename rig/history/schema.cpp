#include "rig/history/schema.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <string>
#include <vector>

namespace cvrig::history {

namespace {

using steps = std::vector<const char*>;

constexpr std::array first_tables{"builds",   "units",    "benches", "runs",      "demands",
                                  "findings", "readings", "takes",   "baselines", "jobs"};

/// $id stands for the column that numbers rows. A version that was once released is never changed:
/// what comes later is a step of its own.
const std::vector<steps>& versions() {
    static const std::vector<steps> all{
        // 1: builds, units, benches, runs, and what was read and found in them
        {R"(CREATE TABLE builds (
  id $id, module TEXT NOT NULL, name TEXT NOT NULL, version TEXT NOT NULL, commit_text TEXT NOT NULL,
  sha256 TEXT NOT NULL, size_bytes BIGINT, first_seen TEXT NOT NULL,
  UNIQUE (module, name, sha256, commit_text)))",
         R"(CREATE TABLE units (id $id, module TEXT NOT NULL, name TEXT NOT NULL, UNIQUE (module, name)))",
         R"(CREATE TABLE benches (
  id $id, name TEXT NOT NULL, link TEXT NOT NULL, UNIQUE (name, link)))",
         R"(CREATE TABLE runs (
  id $id, run_key TEXT NOT NULL UNIQUE, build BIGINT NOT NULL REFERENCES builds, unit BIGINT NOT NULL REFERENCES units,
  bench BIGINT NOT NULL REFERENCES benches, started TEXT NOT NULL, filed TEXT NOT NULL, verdict TEXT NOT NULL,
  passed BIGINT NOT NULL, failed BIGINT NOT NULL, unsure BIGINT NOT NULL, skipped BIGINT NOT NULL,
  coverage_factor DOUBLE PRECISION NOT NULL, sound_s DOUBLE PRECISION, wall_s DOUBLE PRECISION,
  expectations_sha256 TEXT NOT NULL, bench_sha256 TEXT NOT NULL, rig_version TEXT NOT NULL, report_folder TEXT NOT NULL))",
         "CREATE INDEX runs_of_build ON runs (build, id)",
         "CREATE INDEX runs_of_unit ON runs (unit, bench, id)",
         R"(CREATE TABLE demands (
  id $id, module TEXT NOT NULL, check_name TEXT NOT NULL, settings TEXT NOT NULL, name TEXT NOT NULL,
  nth BIGINT NOT NULL, UNIQUE (module, check_name, settings, name, nth)))",
         R"(CREATE TABLE findings (
  run BIGINT NOT NULL REFERENCES runs, place BIGINT NOT NULL, demand BIGINT NOT NULL REFERENCES demands,
  verdict TEXT NOT NULL, reason TEXT, demanded TEXT, lower DOUBLE PRECISION, upper DOUBLE PRECISION,
  answer TEXT, probability DOUBLE PRECISION, probability_of_expected DOUBLE PRECISION,
  does_not_apply BIGINT NOT NULL, PRIMARY KEY (run, place)))",
         R"(CREATE TABLE readings (
  run BIGINT NOT NULL REFERENCES runs, place BIGINT NOT NULL, demand BIGINT NOT NULL REFERENCES demands,
  unit BIGINT NOT NULL REFERENCES units, bench BIGINT NOT NULL REFERENCES benches,
  quantity TEXT NOT NULL, reading DOUBLE PRECISION, standard_uncertainty DOUBLE PRECISION, u_baseline DOUBLE PRECISION NOT NULL, found_at TEXT,
  measurement_version BIGINT NOT NULL, PRIMARY KEY (run, place)))",
         "CREATE INDEX readings_of_demand ON readings (demand, unit, bench, run)",
         R"(CREATE TABLE takes (
  run BIGINT NOT NULL REFERENCES runs, place BIGINT NOT NULL, number BIGINT NOT NULL, attempt BIGINT NOT NULL,
  settings TEXT NOT NULL, length_s DOUBLE PRECISION, problems TEXT, folder TEXT, PRIMARY KEY (run, place)))"},
        // 2: approved runs, which later ones are compared with
        {R"(CREATE TABLE baselines (
  id $id, run BIGINT NOT NULL REFERENCES runs, approved TEXT NOT NULL, approved_by TEXT NOT NULL, note TEXT NOT NULL))"},
        // 3: what a daemon is asked to run
        {R"(CREATE TABLE jobs (
  id $id, job_key TEXT NOT NULL UNIQUE, daemon TEXT NOT NULL, image TEXT NOT NULL, image_sha256 TEXT NOT NULL,
  build_name TEXT NOT NULL, commit_text TEXT NOT NULL, unit TEXT NOT NULL, asked TEXT NOT NULL, asked_by TEXT NOT NULL,
  state TEXT NOT NULL, attempts BIGINT NOT NULL, started TEXT, ended TEXT, report_folder TEXT NOT NULL,
  exit_status BIGINT, run BIGINT REFERENCES runs, why TEXT NOT NULL))",
         "CREATE INDEX jobs_of_daemon ON jobs (daemon, state, id)",
         "CREATE INDEX jobs_of_image ON jobs (daemon, image_sha256)"},
        // 4: whether a run judged the whole file; by what file a job is judged, and how often its run
        // crashed; which daemons somebody has told to be silent
        {"ALTER TABLE runs ADD COLUMN partial BIGINT NOT NULL DEFAULT 0",
         "ALTER TABLE jobs ADD COLUMN expectations_sha256 TEXT NOT NULL DEFAULT ''",
         "ALTER TABLE jobs ADD COLUMN crashes BIGINT NOT NULL DEFAULT 0",
         "CREATE INDEX runs_by_start ON runs (started, id)",
         "CREATE TABLE holds (daemon TEXT PRIMARY KEY, why TEXT NOT NULL)"},
    };
    return all;
}

std::string filled_in(std::string sql, std::string_view id_column) {
    const auto at = sql.find("$id");
    return at == std::string::npos ? sql : sql.replace(at, 3, id_column);
}

void require_known(database& in, int version) {
    if (version > newest_schema())
        throw store_error{fmt::format(
            "The history {} was written by a newer cvrig (schema {}, and this one knows {}); use "
            "that cvrig, or name another history with --history.",
            in.address(), version, newest_schema())};
}

void apply(database& in, int from, int to) {
    for (int v = from; v < to; ++v)
        for (const auto* sql : versions()[static_cast<std::size_t>(v)])
            in.execute(filled_in(sql, in.id_column()));
    in.execute("DELETE FROM cvrig_schema");
    in.execute("INSERT INTO cvrig_schema (version) VALUES ($1)", {std::int64_t{to}});
}

}  // namespace

int newest_schema() noexcept {
    return static_cast<int>(versions().size());
}

int schema_of(database& in) {
    if (!in.has_table("cvrig_schema")) return 0;
    const auto rows = in.query("SELECT version FROM cvrig_schema");
    return rows.empty() ? 0 : static_cast<int>(rows.front().whole(0));
}

void migrate(database& in, int version) {
    const int wanted = version == 0 ? newest_schema() : version;
    const int found = schema_of(in);
    require_known(in, found);
    if (found >= wanted) return;
    transaction all{in};
    // Somebody else may have been quicker.
    const int now = schema_of(in);
    require_known(in, now);
    if (now >= wanted) return;
    if (now == 0) {
        if (std::ranges::any_of(first_tables, [&](const char* t) { return in.has_table(t); }))
            throw store_error{fmt::format(
                "The database {} holds tables of something else; name another with --history.",
                in.address())};
        in.execute("CREATE TABLE cvrig_schema (version BIGINT NOT NULL)");
    }
    apply(in, now, wanted);
    all.commit();
}

}  // namespace cvrig::history
