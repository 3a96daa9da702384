#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "rig/evidence/read_report.hpp"
#include "rig/history/database.hpp"
#include "rig/run/verdict.hpp"

namespace cvrig::history {

/// A build as the history knows it.
struct stored_build {
    std::int64_t id{0};
    std::string module, name, version, commit, sha256, first_seen;
    std::optional<std::int64_t> size_bytes;

    /// How a person calls it: its name, else its version, else the beginning of its hash.
    [[nodiscard]] std::string called() const;
};

/// A run as lists show it.
struct stored_run {
    std::int64_t id{0};
    stored_build build;
    std::string unit, bench, link, started;
    verdict outcome{verdict::unsure};
    std::int64_t passed{0}, failed{0}, unsure{0}, skipped{0};
    std::string expectations_sha256, bench_sha256, report_folder;
    std::string key;         ///< run_circumstances::key
    bool is_partial{false};  ///< only some checks or settings of the file were asked for
};

/// Whether the run's own report lies in its folder: a later run into the same folder has put its own there. It
/// reads the whole report.
[[nodiscard]] bool has_its_report(const stored_run& run);

/// Which runs; what is empty asks for nothing.
struct run_question {
    std::string module, unit, bench;
    std::string build;  ///< its name, version, description by git, or hash
    std::optional<verdict> outcome{};
    std::optional<std::int64_t> build_id{};
    std::optional<std::int64_t> before{};  ///< only runs with smaller numbers, by number
    std::int64_t most{20};
};

/// The runs that were started last, newest first, whenever they were filed.
[[nodiscard]] std::vector<stored_run> list_runs(database& in, const run_question& q);

/// A build and its runs, newest first.
struct build_with_runs {
    stored_build build;
    std::vector<stored_run> runs;
};

/// The builds that were seen last, newest first, each with its latest runs (at most `most_runs`).
/// `before`: only builds with smaller numbers.
[[nodiscard]] std::vector<build_with_runs> list_builds(database& in,
                                                       std::optional<std::int64_t> before,
                                                       std::int64_t most,
                                                       std::int64_t most_runs = 20);

/// The run that a person names: its number, "latest", or a build's name, version, description by
/// git or hash (its beginning, from 7 digits on), which means that build's latest run.
/// Refuses: throws store_error that says what there is.
[[nodiscard]] stored_run find_run(database& in, const std::string& named);

/// The run of that number; nothing if there is none.
[[nodiscard]] std::optional<stored_run> run_of_id(database& in, std::int64_t id);

/// Everything that was found in a run, as its report told it.
[[nodiscard]] evidence::told_run read_run(database& in, const stored_run& run);

}  // namespace cvrig::history
