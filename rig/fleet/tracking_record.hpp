#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rig/expectations/settings.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// The pitch constants that a module has in force: volts at the jack = offset + gain * code.
struct pitch_constants {
    double offset_volts{0.0};
    double gain_volts_per_code{1.0};

    friend bool operator==(const pitch_constants&, const pitch_constants&) = default;
};

/// Whose constants a unit plays with.
enum class constants_in_force {
    unknown,
    by_default,  ///< those that its build ships with
    own          ///< made by calibrating this unit
};

/// One note of a stair as it was heard.
struct tracked_note {
    double at_volts{0.0};
    double error_cents{0.0};  ///< measured against demanded pitch
    double u_cents{0.0};      ///< of the estimator alone
    bool upward{true};

    friend bool operator==(const tracked_note&, const tracked_note&) = default;
};

/// How one unit tracked with one build and one choice of settings, at one time.
struct tracking_record {
    std::string module, unit, build, build_sha256, bench;
    std::string started;  ///< ISO 8601, UTC
    std::string rig_version;
    std::string occasion{"run"};  ///< "run", "before calibration", "after calibration"
    setting_choice choice;
    constants_in_force in_force{constants_in_force::unknown};
    std::optional<pitch_constants> constants;  ///< as the console told, if it did
    double volts_per_octave{1.0};
    double u_common_cents{0.0};  ///< what the bench's voltage and clock add to all notes alike
    std::vector<tracked_note> notes;

    friend bool operator==(const tracking_record&, const tracking_record&) = default;
};

/// What a record says of a run before any note is heard: module, unit, build, bench and time.
[[nodiscard]] tracking_record about_run(const run_result& run, double volts_per_octave);

/// The record of one result of the check "tracking"; `about` says whatever the result does not know.
/// It holds no notes where nothing could be read (a bad take, a note without a pitch): such a record
/// is not to be filed.
[[nodiscard]] tracking_record record_of(const check_result& tracking, tracking_record about);

/// Whether two texts name the same unit: equal, or the same number but for leading zeros.
[[nodiscard]] bool is_same_unit(std::string_view a, std::string_view b) noexcept;

}  // namespace cvrig
