#pragma once

#include <string>

#include "rig/fleet/fleet.hpp"
#include "rig/report/html.hpp"

namespace cvrig {

/// The fleet's answers as one self-contained page, as html_report() makes them of a run.
[[nodiscard]] std::string fleet_page(const fleet_answer& a, const std::string& rig_version,
                                     const html_assets& assets);

}  // namespace cvrig
