#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/run/baseline.hpp"
#include "rig/run/plan.hpp"

namespace cvrig {

/// What a run was asked, which its takes do not say.
struct kept_run {
    run_filter filter;
    std::string unit;
    std::string build_name, build_sha256;
    std::string build_commit{}, build_version{};
    std::optional<std::uintmax_t> build_size_bytes{};
    std::vector<baseline_reading> baseline{};  ///< that its limits followed
};

/// Writes it beside the kept takes as `run.json`, and the trim constants of the bench, if it has any,
/// as `trim.yaml`: the bench's own name for them leads nowhere from there. Throws user_error.
void keep_run(const std::filesystem::path& folder, const kept_run& asked, const bench& b);

/// What keep_run() wrote; of a folder without it, that everything was asked. Throws user_error for a
/// file that says something else.
[[nodiscard]] kept_run read_kept_run(const std::filesystem::path& folder);

/// The kept bench file with the kept trim constants. Throws user_error.
[[nodiscard]] bench read_kept_bench(const std::filesystem::path& folder);

}  // namespace cvrig
