#pragma once

#include "rig/run/result.hpp"

namespace cvrig {

/// What the program ends with. A run that judged nothing never ends with 0.
enum class exit_status : int {
    passed = 0,     ///< every demand passed
    failed = 1,     ///< at least one demand failed
    unusable = 2,   ///< files or arguments that cannot be used; nothing was judged
    undecided = 3,  ///< nothing failed, but something is unsure, skipped against the file's wish,
                    ///< or was stopped
    bisect_skip = 125  ///< with --bisect in place of 2 and 3: `git bisect run` skips this build
};

/// The status for a finished run.
[[nodiscard]] exit_status status_of(const run_result& result, bool bisect) noexcept;

}  // namespace cvrig
