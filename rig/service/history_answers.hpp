#pragma once

#include <string>

#include "rig/service/http_server.hpp"

namespace cvrig::service {

/// What was filed, for the page: builds, runs, comparisons, readings, trends, and each run's own
/// report (rig/service/API.md). Each answer reads through a connection of its own, so that none waits
/// for another. `history` is an address for open_history().
void add_history_answers(http_server& to, const std::string& history);

}  // namespace cvrig::service
