#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/run/result.hpp"
#include "rig/run/runner.hpp"

namespace cvrig {

/// What was judged.
struct run_identity {
    std::string unit;
    std::string build_name, build_sha256;
    std::string build_commit{}, build_version{};
    std::optional<std::uintmax_t> build_size_bytes{};
};

/// Throws user_error with everything that the bench cannot do for the module.
void require_fit(const bench& b, const module_expectations& m);

/// A result that says what is judged by which files, as of now, and nothing yet of what came of it.
[[nodiscard]] run_result describe(const run_identity& who, const module_expectations& m,
                                  const bench& b, const std::string& link);

/// Adds what came of it, with the likeliest causes of failures.
void fill(run_result& r, run_outcome outcome, const module_expectations& m, seconds wall);

}  // namespace cvrig
