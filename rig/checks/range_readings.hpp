#pragma once

#include <optional>
#include <span>

#include "rig/checks/cutoff_stair.hpp"
#include "rig/run/verdict.hpp"

namespace cvrig {

/// The cutoff at one end of its range, in hertz; the stair says what an error of the jack's voltage
/// does to it. What two periods of a moving filter leak into each other is taken for as much as it
/// can be, and the order of the filter for unknown (scripts/coverage).
[[nodiscard]] reading cutoff_reading_of(const check_request& request, const stair_step& s,
                                        std::span<const stair_step> stair);

/// Slope of the stair's best straight line; empty where less than three cutoffs were heard.
[[nodiscard]] std::optional<reading> octaves_per_volt_of(const check_request& request,
                                                         std::span<const stair_step> stair);

/// The longest run of steps that rise less than the typical one, by how much of them is missing. An end
/// of the stair that cannot be read may hide a step.
[[nodiscard]] std::optional<reading> dead_zone_of(std::span<const stair_step> stair);

/// Whether the cutoff never falls while its CV rises; a fall counts beyond 0.01 octave.
[[nodiscard]] std::optional<answer> rising_of(std::span<const stair_step> stair);

}  // namespace cvrig
