#pragma once

#include <span>
#include <stop_token>
#include <string>

#include "rig/bench/bench.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// Runs a build or flash step of the bench in its folder, within its time limit. `name` is "build" or
/// "flash"; `command` is ready to run.
///
/// Refuses: throws user_error where it does not end with status 0 in time: one sentence that says
///          that nothing was judged, and below it the last lines that the command wrote.
[[nodiscard]] preparation_step run_step(const std::string& name, const bench_step& step,
                                        std::span<const std::string> command, std::stop_token stop);

/// The last lines that a step wrote, indented, to stand below a sentence; empty if it was silent.
[[nodiscard]] std::string last_lines(const preparation_step& step);

/// A command on one line, as a person would write it.
[[nodiscard]] std::string in_words(std::span<const std::string> command);

}  // namespace cvrig
