#pragma once

#include <string>
#include <vector>

#include "rig/fleet/selection.hpp"

namespace cvrig {

/// One unit with two builds.
struct record_pair {
    const tracking_record* older{nullptr};
    const tracking_record* newer{nullptr};

    /// Whether both tell their constants, so that a change of these can be taken out.
    [[nodiscard]] bool is_reckoned() const noexcept;
    /// Whether both heard the unit on the same bench, whose voltages are off by the same both times.
    [[nodiscard]] bool is_of_one_bench() const noexcept;
};

struct build_pairs {
    std::vector<record_pair> all;  ///< one for each unit that can be compared
    /// Units with both builds that cannot: they were calibrated in between, and nobody knows by how much.
    std::vector<std::string> calibrated_between;
};

/// The units that were measured with both builds, each under its own constants (`own`) or under others than
/// these.
///
/// Definition: a unit's latest records that can be compared. Two records cannot be if the unit was
///             calibrated between them (a record of a calibration says when, whatever its settings; one
///             "after calibration" comes after its own), unless both tell their constants or both are
///             under the default: a calibration takes out again what the build moved.
/// Input:      the pointers point into `s`.
[[nodiscard]] build_pairs pairs_under(bool own, const fleet_selection& s, const std::string& from,
                                      const std::string& to);

}  // namespace cvrig
