#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "analysis/outcome.hpp"
#include "rig/fleet/constants_change.hpp"
#include "rig/fleet/tracking_record.hpp"

namespace cvrig {

/// A quantity in cents and its standard uncertainty.
struct cents_told {
    double cents{0.0};
    double u_cents{0.0};
};

/// What no gain and offset can take away, by its kind.
struct left_over {
    cents_told worst;  ///< of all notes, with the best constants
    cents_told bend;   ///< largest departure of the mean of up and down from a straight line
    double bend_at_volts{0.0};
    cents_told up_and_down;  ///< largest half difference of one voltage reached from both sides
    cents_told steps;  ///< scatter of the notes about a smooth curve, as converter steps make it
};

/// The gain and offset that suit one unit best.
struct best_constants {
    constants_change change;  ///< of those in force
    double u_offset_volts{0.0};
    double u_gain{0.0};
    double worst_now_cents{0.0};  ///< with the constants in force
    left_over left;
    std::optional<pitch_constants> constants;  ///< the best ones, if those in force are known
};

/// Definition: gain and offset of the volts that a unit sounds, so that the worst error over all
///             notes is least (analysis::minimax_line of volts asked against volts heard).
/// Input:      a stair's notes, of which three or more are at different voltages. `now`: the
///             constants with which the notes sounded.
/// Error:      uncertainties from the notes' own and the bench's common one.
/// Refuses:    as analysis::minimax_line.
[[nodiscard]] analysis::outcome<best_constants> best_constants_of(
    std::span<const tracked_note> notes, double volts_per_octave, double u_common_cents,
    const std::optional<pitch_constants>& now);

/// The corrections of a table that suit one unit best, to be added to those in force.
struct best_table {
    std::vector<double> add_volts;  ///< one for each voltage of the table
    std::vector<double> u_volts;
    cents_told worst;  ///< of all notes, with them
};

/// Definition: corrections at `at_volts`, in straight lines between and beyond, so that the worst error
///             over all notes is least (analysis::minimax_fit of volts asked less volts heard).
/// Input:      as best_constants_of; two voltages or more, rising, each with notes on either side.
/// Refuses:    as analysis::minimax_fit.
[[nodiscard]] analysis::outcome<best_table> best_table_of(std::span<const tracked_note> notes,
                                                          std::span<const double> at_volts,
                                                          double volts_per_octave,
                                                          double u_common_cents);

/// What is left, in one or two sentences: how much, which part is largest and whose it is, hardware's
/// or firmware's. `wanted_cents` is what the file demands at most.
[[nodiscard]] std::string in_words(const left_over& left, double wanted_cents,
                                   double coverage_factor);

}  // namespace cvrig
