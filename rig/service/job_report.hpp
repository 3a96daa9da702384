#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "rig/evidence/read_report.hpp"
#include "rig/service/job.hpp"

namespace cvrig::service {

/// Whether a run left all of its reports.
[[nodiscard]] bool has_reports(const std::filesystem::path& folder);

void remove_reports(const std::filesystem::path& folder);

struct read_job_report {
    std::optional<evidence::told_run> told;
    std::string problem;  ///< one sentence, if it cannot be read
    std::string key;      ///< of the run: filed by hand as well, it is one
};

/// What the report of a job's run says, with what only the job knows.
[[nodiscard]] read_job_report report_of(const job& j);

/// As `cvrig run` would have ended: its reports are there.
[[nodiscard]] int exit_status_of(const evidence::told_run& run) noexcept;

/// The last line that a run complained with, without the program's name.
[[nodiscard]] std::string last_complaint(const std::string& text);

}  // namespace cvrig::service
