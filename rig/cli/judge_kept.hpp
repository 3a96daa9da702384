#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/run/kept_run.hpp"
#include "rig/run/kept_takes.hpp"
#include "rig/run/plan.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// Kept takes that are to be judged again with the analysis of this build. What can be refused is refused
/// when it is made, before anything is written.
class kept_judge {
public:
    /// `kept` is the report folder of a run with --keep-takes, or an opened evidence file. `expectations`:
    /// other limits than the kept ones. Throws user_error.
    kept_judge(const std::filesystem::path& kept, const std::optional<std::string>& expectations);
    kept_judge(const kept_judge&) = delete;  // the plan points into the expectations
    kept_judge& operator=(const kept_judge&) = delete;

    /// Throws user_error for takes of other notes, or that cannot be read.
    [[nodiscard]] run_result judge();

private:
    std::filesystem::path kept_;
    kept_link takes_;
    kept_run asked_;
    module_expectations m_;
    bench b_;
    run_plan plan_;
};

}  // namespace cvrig
