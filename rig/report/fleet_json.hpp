#pragma once

#include <string>

#include "rig/fleet/fleet.hpp"

namespace cvrig {

/// The fleet's answers for machines: format "cvrig fleet 1", rig/report/fleet.schema.json.
[[nodiscard]] std::string fleet_json(const fleet_answer& a, const std::string& rig_version);

}  // namespace cvrig
