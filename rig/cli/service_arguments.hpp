#pragma once

#include <map>
#include <string>

#include "rig/cli/exit_status.hpp"
#include "rig/service/daemon.hpp"

namespace cvrig {

/// What `cvrig submit` was asked.
struct submit_arguments {
    std::string image, build_name, commit, unit;
    std::string bench;  ///< whose daemon; empty: the only one
    bool wait{false};
};

/// What `cvrig status` was asked.
struct status_arguments {
    std::string bench;
    bool json{false};
};

/// What `cvrig serve`, `submit` and `status` were asked.
struct service_arguments {
    service::serve_options serve;
    submit_arguments submit;
    status_arguments status;
};

/// Owns a bench and runs what it is given, until it is asked to stop.
[[nodiscard]] exit_status serve_command(const service::serve_options& options);

/// Hands an image to the daemon; on request waits for the verdict and ends as `cvrig run` would.
[[nodiscard]] exit_status submit_command(const submit_arguments& arguments);

/// Says what the daemon plays, how far it is and what waits; undecided where no daemon runs.
[[nodiscard]] exit_status status_command(const status_arguments& arguments);

}  // namespace cvrig
