#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "analysis/outcome.hpp"
#include "rig/fleet/selection.hpp"

namespace cvrig {

/// Where a unit is furthest out.
struct worst_note {
    double error_cents{0.0};  ///< with its sign
    double u_cents{0.0};      ///< standard, of this error, the bench's part included
    double at_volts{0.0};
};

/// Whether a unit keeps to a limit: undecided where it lies closer to it than its uncertainty.
enum class keeping { surely_within, surely_outside, undecided };

/// The furthest note with a default, out of all.
[[nodiscard]] worst_note worst_of(const fleet_unit& unit, const constants_change& change,
                                  double volts_per_octave);

/// Within: each note by k u. Outside: any note by k u.
[[nodiscard]] keeping keeps_to(double limit_cents, const fleet_unit& unit,
                               const constants_change& change, double volts_per_octave,
                               double coverage_factor);

/// Units counted against a limit.
struct kept_count {
    double limit_cents{0.0};
    std::size_t within{0}, outside{0}, undecided{0};

    [[nodiscard]] std::size_t all() const noexcept { return within + outside + undecided; }
};

/// Which default.
enum class default_kind { now, minimax, median };

/// A default as a change of the one in force, and what becomes of the units with it.
struct default_choice {
    default_kind kind{default_kind::now};
    constants_change change;
    std::optional<pitch_constants> constants;  ///< where those in force are known

    std::vector<worst_note> worst;  ///< one for each unit, in their order
    std::vector<kept_count> kept;   ///< one for each limit
    /// The same, each unit judged with the default that the other units alone would choose, so that they stand
    /// about for units that nobody has seen. For `now` the same as above: that holds if it was chosen
    /// from none of these units.
    std::vector<worst_note> worst_unseen;
    std::vector<kept_count> kept_unseen;
    /// How far the default's line moves, in cents at the two ends of the range, if any one unit is
    /// left out: the farthest of them.
    double moves_low_cents{0.0}, moves_high_cents{0.0};
    std::vector<std::string> held_by;  ///< minimax: the units whose notes fix it

    [[nodiscard]] std::size_t worst_unit() const noexcept;  ///< its place in `worst`
    [[nodiscard]] double worst_cents() const noexcept;      ///< of that unit
    [[nodiscard]] double median_cents() const noexcept;     ///< of the median unit
};

/// The default with which the worst error of all notes of all units is least.
///
/// Definition: the straight line of least worst departure of the demanded volts against the heard
///             volts; a touching point belongs to a unit that holds it.
/// Source:     analysis::minimax_line.
struct minimax_default_found {
    constants_change change;
    std::vector<std::size_t> held_by;  ///< numbers of units
};
[[nodiscard]] analysis::outcome<minimax_default_found> minimax_default(
    std::span<const fleet_unit> units, double volts_per_octave);

/// The default that puts the median unit right at both ends of the range, by each unit's own best
/// line: half of the units err up there, half down. One odd unit does not move it.
[[nodiscard]] constants_change median_default(std::span<const fleet_unit> units, double low_volts,
                                              double high_volts, double volts_per_octave);

/// The default in force, the minimax and the median one. Needs two units; with two, nothing is left to
/// choose a default from for the one left out, so of unseen units only `now` speaks.
[[nodiscard]] analysis::outcome<std::vector<default_choice>> compare_defaults(
    const fleet_selection& s, std::span<const double> limits_cents, double coverage_factor);

[[nodiscard]] double median_of(std::vector<double> all);

}  // namespace cvrig
