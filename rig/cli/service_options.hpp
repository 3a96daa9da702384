#pragma once

#include <CLI/CLI.hpp>
#include <optional>

#include "rig/cli/service_arguments.hpp"

namespace cvrig {

/// Adds the subcommands around the daemon.
void add_service_commands(CLI::App& app, service_arguments& a);

/// Runs the one that was asked for; nothing if it was none of them.
[[nodiscard]] std::optional<exit_status> dispatch_service(const CLI::App& app,
                                                          service_arguments& a);

}  // namespace cvrig
