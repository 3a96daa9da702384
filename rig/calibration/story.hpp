#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rig/calibration/best_constants.hpp"
#include "rig/calibration/procedure.hpp"
#include "rig/fleet/tracking_record.hpp"

namespace cvrig {

/// How a unit tracked at one moment of its calibration.
struct tracking_moment {
    std::string name;                 ///< "before", "after", "power cycle", ...
    std::vector<tracked_note> notes;  ///< empty: nothing could be read
    std::optional<pitch_constants> told;
    std::vector<double> told_table;  ///< volts; empty: the module has none, or does not tell it
    std::string problem;             ///< why there are no notes, one sentence
};

/// Everything that was seen while a unit was calibrated.
struct calibration_story {
    double volts_per_octave{1.0};
    double u_common_cents{0.0};  ///< what the bench adds to all notes alike
    double coverage_factor{2.0};
    limit error;
    limit kept;
    tracking_moment before;
    procedure_result procedure;
    tracking_moment after;                  ///< only after a complete procedure
    std::vector<tracking_moment> survived;  ///< in the file's order
    std::optional<best_constants> best;     ///< from `after`
    std::optional<best_table> table;        ///< the same, of a module that has a table
    std::vector<double> table_at_volts;
    std::optional<tracking_moment> rewritten;  ///< with the best constants written
};

}  // namespace cvrig
