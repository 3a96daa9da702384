#pragma once

#include <optional>

#include "analysis/robust_fit.hpp"
#include "rig/checks/pattern_readings.hpp"

/// Whether a tied step of a pattern struck the envelopes again, judged beside the pattern's own
/// struck steps.
namespace cvrig {

/// Level and brightness of plain struck steps, against the pitch voltage.
struct plain_reference {
    analysis::robust_polynomial level_db, brightness_db;
    double u_level_db, u_brightness_db;  ///< scatter of one step about them
    double
        u_rise_db;  ///< of one step's level above them: these were few, and the course has errors
};

/// How far a moment lies above what a plain struck step has at its pitch.
struct offset_from_plain {
    double level_db, brightness_db;
};

[[nodiscard]] std::optional<plain_reference> plain_steps(const pattern_part& part,
                                                         const pattern_readings& heard);

[[nodiscard]] std::optional<offset_from_plain> beside_plain(
    const std::optional<pattern_moment>& moment, const plain_reference& plain);

/// Between what accented struck steps lie, since an accent builds up.
struct accented_reference {
    offset_from_plain least, most;

    /// The one of them that is nearest.
    [[nodiscard]] offset_from_plain nearest(const offset_from_plain& to) const noexcept;
};

/// Of those struck steps that are louder than plain ones by `least_rise_db`.
[[nodiscard]] std::optional<accented_reference> accented_steps(const pattern_part& part,
                                                               const pattern_readings& heard,
                                                               const plain_reference& plain,
                                                               double least_rise_db);

struct step_odds {
    double log_ratio_of_strike;    ///< ln of the likelihood of a strike over that of going on
    bool is_neither{false};        ///< far from both
    double level_off_going_on_db;  ///< for a sentence
};

/// Empty where the step, or the one before it, tells too little.
[[nodiscard]] std::optional<step_odds> strike_odds(
    const pattern_readings& heard, std::size_t index, const plain_reference& plain,
    const std::optional<accented_reference>& accented);

}  // namespace cvrig
