#pragma once

#include <span>
#include <string>
#include <vector>

#include "rig/fleet/best_default.hpp"
#include "rig/fleet/build_change.hpp"
#include "rig/fleet/outliers.hpp"
#include "rig/fleet/selection.hpp"
#include "rig/fleet/unit_or_build.hpp"
#include "rig/fleet/unseen.hpp"

namespace cvrig {

/// Everything that a folder of tracking records says about its fleet.
struct fleet_answer {
    fleet_question asked;
    fleet_selection chosen;
    std::vector<default_choice> defaults;  ///< now, minimax, median; empty below two units
    std::vector<unseen_share> unseen;
    std::vector<unseen_worst> unseen_worst_units;
    std::vector<normal_bound> normal;
    outliers_found odd;
    unit_or_build_found scatter;
    std::vector<build_change> changes;
    std::vector<std::string> unreadable;  ///< files that were no records, and copies

    /// Whether there were units enough for any of it.
    [[nodiscard]] bool says_anything() const noexcept;
};

/// The limits for which shares are told: 3, 5 and 10 cents and the one that was asked for.
[[nodiscard]] std::vector<double> limits_of(const fleet_question& question);

/// Pure. Throws user_error as select() does.
[[nodiscard]] fleet_answer answer_fleet(std::span<const tracking_record> records,
                                        const fleet_question& question);

}  // namespace cvrig
