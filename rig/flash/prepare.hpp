#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// What comes before a run on a bench that builds or flashes. All that is referred to must outlive it.
struct preparing {
    const bench& desk;
    const module_expectations& module;
    std::string image;  ///< that is judged, with its folder; a build makes it; may be empty
    /// What {name} stands for in the commands and the console's address; {image} among them.
    std::map<std::string, std::string> names;
    std::vector<std::filesystem::path> search_folders;  ///< searched for a program before PATH
    std::stop_token stop;
    /// Called when a step begins: "build", "flash" or "proof", which is waiting for the console.
    std::function<void(const std::string& step, const std::string& command)> begins;
    std::function<void(const preparation_step&)> ended;
};

/// Throws user_error, all complaints at once, for steps that could not even be begun: an unknown
/// {name}, no program, no {port}. Runs nothing.
void require_preparable(const preparing& p);

/// Builds, flashes, and waits until the module runs what was flashed; empty where the bench has no
/// such steps.
///
/// Refuses: throws user_error, one sentence that says that nothing was judged, for a step that fails
///          or hangs, a build that makes no image, and what await_flashed() refuses: all faults of
///          the rig, never of the firmware.
[[nodiscard]] preparation prepare(const preparing& p);

}  // namespace cvrig
