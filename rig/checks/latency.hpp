#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// How late and how evenly does a gate sound, and how early must the pitch CV come?
[[nodiscard]] check latency_check();

}  // namespace cvrig
