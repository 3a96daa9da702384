#pragma once

#include <optional>
#include <span>
#include <vector>

#include "rig/checks/check.hpp"

namespace cvrig {

/// The cutoff against the volts at its jack in one choice of settings, for comparing choices.
struct curve_point {
    volts at;
    octaves cutoff;  ///< above 1 Hz
    octaves u_noise;
    octaves u_wave;   ///< of a wave that is no exact sawtooth: alike in points of like cutoff
    octaves u_rest;   ///< what its take alone leaves unknown of the rest of the filter's envelope
    octaves u_moves;  ///< a filter that still closes while it is heard
    octaves u_law;    ///< an envelope unlike its law: all points of all takes err by it alike
};

/// The passage that each choice plays: a note whose cutoff CV stands at a few voltages over its
/// range.
[[nodiscard]] std::vector<passage> curve_passages(const check_request& request);

/// Reads it, and notes it down (check_result::noted) for check::conclude. A demand in `keys` is in
/// doubt where it cannot be read.
[[nodiscard]] check_result note_curve(const check_request& request,
                                      std::span<const heard_passage> heard,
                                      std::initializer_list<const char*> keys);

/// What was noted, from low volts to high; empty where it could not be read.
[[nodiscard]] std::vector<curve_point> curve_of(const check_result& result);

/// The volts at which a rising curve has the cutoff of this point, along straight lines between its
/// points and beyond them; empty where the curve does not rise there, or has less than three points.
struct equal_volts {
    volts at;
    volts by_noise, by_wave;
    volts by_moving;
    volts by_bend;  ///< what the curve may do between its points
    /// What the curve's own take, and the point's, leave unknown of the rest of the envelope.
    volts by_rest_of_curve, by_rest_of_point;
    volts by_law;  ///< and what both do

    [[nodiscard]] std::vector<analysis::contribution> budget() const;
};
[[nodiscard]] std::optional<equal_volts> volts_for(std::span<const curve_point> curve,
                                                   const curve_point& point);

/// Standard uncertainty of the difference of two voltages that jack "cutoff" gets, as far apart as
/// this, when either end of its range is as uncertain as the bench file says.
[[nodiscard]] volts u_of_distance(const check_request& request, volts apart);

}  // namespace cvrig
