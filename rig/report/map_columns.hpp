#pragma once

#include <vector>

#include "rig/report/groups.hpp"

namespace cvrig::report {

/// The choices of settings, split for a table of check by choice: most runs ask a few choices of
/// nearly every check and others of one, and a column for each of these would be one of gaps.
struct map_columns {
    std::vector<setting_choice> own;     ///< asked of at least a quarter of the checks
    std::vector<setting_choice> shared;  ///< the others, which stand together in one column
};

[[nodiscard]] map_columns columns_of_map(const run_layout& layout);

}  // namespace cvrig::report
