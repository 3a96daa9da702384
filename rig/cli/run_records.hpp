#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "rig/cli/commands.hpp"
#include "rig/run/bench_session.hpp"

namespace cvrig {

/// Files what the check "tracking" heard in a run, for `cvrig fleet`, where --runs asks for it.
class run_records {
public:
    /// Before anything plays: asks the console which unit is on the bench, where it can tell. Throws
    /// user_error if that is not the unit of --unit, or if there are records to be filed that nobody
    /// could tell apart afterwards.
    run_records(const run_arguments& a, const run_plan& plan, const module_expectations& m,
                const std::string& build_name, bench_session& session);

    /// As the module tells it; else as typed; may be empty.
    [[nodiscard]] const std::string& unit() const noexcept { return unit_; }

    /// One record for each choice of settings that was heard, whatever its verdict.
    [[nodiscard]] std::vector<std::filesystem::path> file(const run_result& run,
                                                          const module_expectations& m) const;

    /// Files a record that somebody else made, under this unit, where --runs asks for it; one without
    /// notes is left out.
    void file_one(tracking_record record) const;

private:
    [[nodiscard]] console* talks_of(bench_session& session) const;

    std::string folder_;
    constants_in_force in_force_;
    std::string unit_;
};

}  // namespace cvrig
