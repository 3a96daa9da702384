#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rig/fleet/constants_change.hpp"
#include "rig/fleet/tracking_record.hpp"
#include "rig/fleet/unit_traits.hpp"

namespace cvrig {

/// What is asked of a fleet's records.
struct fleet_question {
    std::string build{};        ///< empty: the latest that was measured on enough units
    setting_choice settings{};  ///< only choices that have these values
    double limit_cents{5.0};    ///< what a user would call in tune
    double coverage_factor{2.0};
};

/// One unit as it plays with the default constants of the build in question.
struct fleet_unit {
    std::string name;
    std::string started, bench;
    std::vector<tracked_note> notes;
    unit_traits traits;
    double u_common_cents{0.0};
    bool is_converted{false};  ///< measured under other constants, and reckoned back
};

/// That a unit was calibrated.
struct unit_calibration {
    std::string unit;     ///< as unit_key() has it
    std::string started;  ///< as its record has it
};

/// What answers: records of one module, one choice of settings and one build, one for each unit.
struct fleet_selection {
    std::string module;
    setting_choice choice;
    setting_choice chosen;  ///< of it what other records have otherwise
    std::string build;
    std::vector<std::string> builds;  ///< all that were measured, by their first record
    double volts_per_octave{1.0};
    double low_volts{0.0}, high_volts{0.0};  ///< the range that all units share
    double reference_volts{0.0};  ///< where offsets are told: 0 V, or the range's low end
    std::optional<pitch_constants> default_constants;
    std::vector<fleet_unit> units;
    /// All records of the module with that choice, of every build, in order of time.
    std::vector<tracking_record> of_choice;
    std::vector<unit_calibration> calibrations;  ///< of the module, whatever the settings
    std::vector<std::string> remarks;  ///< what was left out or taken for granted, and why
};

/// Chooses. The choice of settings is that of the most units, then of the most notes; the build is
/// the latest (by its first record) with at least half as many units as any. Of a unit the latest
/// record counts that was made under default constants (unknown ones are taken for default), or that
/// can be reckoned back to them because both numbers are known.
/// Refuses: throws user_error for records of several modules, a build or settings that no record has,
///          stairs without a common range.
[[nodiscard]] fleet_selection select(std::span<const tracking_record> records,
                                     const fleet_question& question);

/// A name under which "7" and "0007" are one unit.
[[nodiscard]] std::string unit_key(const std::string& unit);

}  // namespace cvrig
