#pragma once

#include <filesystem>
#include <map>
#include <span>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"

namespace cvrig {

/// The command of a bench's build or flash step made ready to run: {name} replaced, the program found
/// where it is named without a folder. `names` are those of `--with`, unit and image; {port} is what
/// path_of_port() finds for `console`, whose own names are filled in.
///
/// Refuses: throws user_error with the step's place for an unknown name, {port} where no port is
///          found, no such program.
[[nodiscard]] std::vector<std::string> command_of(
    const bench_step& step, const std::map<std::string, std::string>& names,
    const std::optional<console_settings>& console,
    std::span<const std::filesystem::path> search_folders);

}  // namespace cvrig
