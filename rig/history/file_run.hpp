#pragma once

#include <cstdint>
#include <string>

#include "rig/evidence/read_report.hpp"
#include "rig/history/database.hpp"

namespace cvrig::history {

/// What a report does not say of its run.
struct run_circumstances {
    /// Tells the run from every other; filing it a second time changes nothing.
    std::string key;
    std::string filed;          ///< now: ISO 8601, UTC
    std::string report_folder;  ///< absolute; where the reports lie
    bool takes_kept{false};     ///< the takes lie in it as well
};

/// A run's number in the history.
struct filed_run {
    std::int64_t id{0};
    bool is_new{true};  ///< false: it was filed before
};

/// Writes a run into the history, or nothing at all, inside the caller's transaction.
///
/// Input:   a report that was read (evidence::read_report).
/// Refuses: throws store_error.
[[nodiscard]] filed_run file_run(database& in, const evidence::told_run& run,
                                 const run_circumstances& about);

/// The same in a transaction of its own.
[[nodiscard]] filed_run file_run_alone(database& in, const evidence::told_run& run,
                                       const run_circumstances& about);

/// A key for a run whose report is this text: two files of the same report are one run.
[[nodiscard]] std::string key_of_report(std::string_view report_json);

/// Whether a key was made of a report.
[[nodiscard]] bool is_key_of_report(std::string_view key) noexcept;

}  // namespace cvrig::history
