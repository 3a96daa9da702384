#pragma once

#include <CLI/CLI.hpp>
#include <optional>

#include "rig/cli/history_arguments.hpp"

namespace cvrig {

/// Adds the subcommands that read the history.
void add_history_commands(CLI::App& app, history_arguments& a);

/// Runs the one that was asked for; nothing if it was none of them.
[[nodiscard]] std::optional<exit_status> dispatch_history(const CLI::App& app,
                                                          history_arguments& a);

/// The option --history, with its variable.
void add_history_option(CLI::App& command, std::string& address);

}  // namespace cvrig
