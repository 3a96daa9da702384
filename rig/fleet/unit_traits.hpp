#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "analysis/fit.hpp"
#include "analysis/outcome.hpp"
#include "rig/fleet/tracking_record.hpp"

namespace cvrig {

/// A number of one unit and its standard uncertainty.
struct told_cents {
    double cents{0.0};
    double u_cents{0.0};
};

/// What tells one unit from another, from one stair.
struct unit_traits {
    double slope_cents_per_volt{0.0};  ///< of the best straight line of the error
    double zero_cents{0.0};            ///< that line at 0 V

    told_cents gain;    ///< cents an octave: the line's slope
    told_cents offset;  ///< the line at the reference voltage of the traits
    /// Largest departure from the line, of the mean of up and down at one voltage.
    told_cents straightness;
    double straightness_at_volts{0.0};
    /// Down less up at the same voltage, without what drifts with time.
    std::optional<told_cents> hysteresis;
    std::optional<told_cents> scatter;  ///< standard deviation of one note

    [[nodiscard]] double line_at(double at_volts) const noexcept {
        return zero_cents + slope_cents_per_volt * at_volts;
    }
};

/// The traits of one stair.
///
/// Definition: least-squares line of error against volts over all notes. Hysteresis: intercept of
///             the line of (down - up) against the notes between the two; scatter: standard
///             deviation about that line, over the square root of 2.
/// Source:     JCGM 100:2008, H.3, for the lines.
/// Input:      `reference_volts` is where the offset is told.
/// Error:      standard uncertainties from the notes' own (the estimator's), independent of each
///             other; what the bench adds to all notes alike is not in them.
/// Refuses:    as analysis::fit_line: too few notes, all at one voltage.
[[nodiscard]] analysis::outcome<unit_traits> traits_of(std::span<const tracked_note> notes,
                                                       double volts_per_octave,
                                                       double reference_volts);

}  // namespace cvrig
