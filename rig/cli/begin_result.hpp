#pragma once

#include <string>

#include "rig/bench/bench.hpp"
#include "rig/cli/commands.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// Throws user_error with everything that the bench cannot do for the module.
void require_fit(const bench& b, const module_expectations& m);

/// Throws user_error if an image is named and is not there.
void require_image(const std::string& image);

/// A result without takes and findings: what was asked, on which bench, and when.
[[nodiscard]] run_result begin_result(const run_arguments& a, const module_expectations& m,
                                   const bench& b, const std::string& link);

}  // namespace cvrig
