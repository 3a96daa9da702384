#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "rig/cli/exit_status.hpp"
#include "rig/run/plan.hpp"

namespace cvrig {

/// What `cvrig run` was asked.
struct run_arguments {
    std::string expectations;
    std::string bench;
    std::string image;  ///< firmware image; replaces {image} in the bench's command
    std::string unit;   ///< specimen; replaces {unit}
    std::string build_name;
    std::map<std::string, std::string> with;  ///< further replacements
    run_filter filter;
    std::string report_folder{"cvrig-report"};
    bool keep_takes{false};
    bool bisect{false};
    bool quiet{false};
    std::vector<std::string> program_folders;  ///< searched for the bench's program before PATH
};

/// What `cvrig rejudge` was asked.
struct rejudge_arguments {
    std::string kept_folder;                  ///< the report folder of a run with --keep-takes
    std::optional<std::string> expectations;  ///< other limits; default: the kept file
    std::string report_folder;                ///< default: KEPT/rejudged
    bool bisect{false};
};

/// Plays, judges and reports. Throws user_error for what cannot be used.
[[nodiscard]] exit_status run_command(const run_arguments& arguments);

/// Judges kept takes again.
[[nodiscard]] exit_status rejudge_command(const rejudge_arguments& arguments);

/// Prints in plain words what a file will play, measure and demand, and how long that takes.
[[nodiscard]] exit_status explain_command(const std::string& expectations,
                                          const std::string& bench);

}  // namespace cvrig
