#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "rig/cli/exit_status.hpp"
#include "rig/history/database.hpp"
#include "rig/history/stored_run.hpp"

namespace cvrig {

/// What `cvrig history`, `show`, `compare`, `baseline`, `trend` and `export` were asked.
struct history_arguments {
    std::string address;  ///< as --history says it; empty: where own_history() says
    history::run_question which;
    std::string verdict;                      ///< only runs that ended so; empty: any
    std::vector<std::string> report_folders;  ///< runs to file
    std::string run, other_run;               ///< as find_run() takes them
    std::string reading;                      ///< as find_demand() takes it
    std::string note;
    std::string format{"csv"}, file;
    bool json{false};
};

/// Which history the user has named: what --history says, else CVRIG_HISTORY; empty if neither does.
[[nodiscard]] std::string named_history(const std::string& option);

/// Where runs are filed: what the user has named, else one file in the user's data folder. Empty for
/// "none", and where there is no data folder.
[[nodiscard]] std::string history_address(const std::string& option);

/// The history that the arguments name. Throws history::store_error, also for "none".
[[nodiscard]] std::unique_ptr<history::database> asked_history(const history_arguments& a,
                                                               history::opening how);

/// Lists runs, or files the reports of folders first.
[[nodiscard]] exit_status history_command(const history_arguments& a);
/// One run with everything that was found in it.
[[nodiscard]] exit_status show_command(const history_arguments& a);
/// Passed if no reading moved beyond both uncertainties, failed if one did, undecided if something could
/// not be compared or the two are of different units or benches.
[[nodiscard]] exit_status compare_command(const history_arguments& a);
[[nodiscard]] exit_status approve_command(const history_arguments& a);
[[nodiscard]] exit_status baselines_command(const history_arguments& a);
/// A reading over the builds; the names of all readings if none is named.
[[nodiscard]] exit_status trend_command(const history_arguments& a);
[[nodiscard]] exit_status export_command(const history_arguments& a);

}  // namespace cvrig
