#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rig/fleet/selection.hpp"

namespace cvrig {

/// How the units of one build play with its default constants; without traits yet.
struct default_records_found {
    std::optional<pitch_constants>
        constants;  ///< the default's numbers, where any console told them
    std::vector<fleet_unit> units;
    std::vector<std::string> remarks;
};

/// The latest usable record of each unit. A record is usable if it was made under default constants,
/// if nothing is known of its constants (then they are taken for default), or if its constants and
/// the default's are both known numbers, so that what the unit would do is reckoned.
/// Input: records in order of time.
[[nodiscard]] default_records_found default_records(std::span<const tracking_record> in_order,
                                                    const std::string& build);

/// The same for every usable record, not only the latest of each unit; in order of time.
[[nodiscard]] std::vector<fleet_unit> all_default_records(std::span<const tracking_record> in_order,
                                                          const std::string& build);

}  // namespace cvrig
