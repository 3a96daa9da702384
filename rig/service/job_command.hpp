#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "rig/service/job.hpp"

namespace cvrig::service {

/// How the daemon's runs are started.
struct run_settings {
    std::filesystem::path program;  ///< cvrig itself
    std::string expectations, bench;
    std::string history;            ///< address; the runs read it, and file nothing
    std::vector<std::string> with;  ///< name=value
    bool unattended{false};
    bool newest_first{false};
    std::vector<int> shared;  ///< locks that the runs hold as well
};

/// The image of a job as it was when it was found: in the job's own folder, so that what is judged
/// does not change with what lies where it was found.
[[nodiscard]] std::filesystem::path image_copy_of(const job& j);

/// The command of a job's run.
[[nodiscard]] std::vector<std::string> command_of(const job& j, const run_settings& s);

/// Its variables. An address may hold a password, and everybody on the machine can read a command.
[[nodiscard]] std::vector<std::string> variables_of(const run_settings& s);

}  // namespace cvrig::service
