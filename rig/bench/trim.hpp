#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "rig/bench/channel_trim.hpp"
#include "rig/bench/meter.hpp"

/// The constants of a channel from known voltages.
namespace cvrig {

/// One known voltage and the channel's sample (full scale 1) that belongs to it.
struct trim_point {
    double sample{0.0};
    volts known{0.0};
};

struct trim_fit {
    channel_trim trim;
    volts largest_departure{0.0};  ///< of a point from the line
    volts at{0.0};                 ///< where
    bool explained{true};          ///< by what is known of the meter or the source
};

/// Fits an output: the voltages are a meter's readings.
///
/// Definition: straight line by least squares. The scatter is at least that of the meter's
///             rounding; its scale and zero errors are the same in all readings and are added to
///             the two constants.
/// Source:     JCGM 100:2008 (GUM), H.3 for the line and its covariance, 4.3.7 for the meter.
/// Input:      3 or more points, at least two different samples.
/// Refuses:    too_short, bad_argument, not_finite.
[[nodiscard]] analysis::outcome<trim_fit> fit_output_trim(std::span<const trim_point> points,
                                                          const meter_accuracy& meter);

/// Fits an input that heard an output whose trim is known; `noise` is the standard uncertainty of
/// one heard level.
///
/// Refuses:    as above.
[[nodiscard]] analysis::outcome<trim_fit> fit_input_trim(std::span<const trim_point> points,
                                                         const channel_trim& source, volts noise);

/// The same for an output that an input with known trim heard: sample is what was sent.
[[nodiscard]] analysis::outcome<trim_fit> fit_heard_output_trim(std::span<const trim_point> points,
                                                                const channel_trim& listener,
                                                                volts noise);

/// What a load does to a voltage: the part of an octave by which 1 V/octave is then off.
///
/// Definition: 1200 * source / (source + load), in cents for each octave.
[[nodiscard]] cents loading_error(double source_ohms, double load_ohms) noexcept;

/// Voltages at which to trim an output: 0, 1, 3 and 5 V and their negatives as far as the limits
/// allow; at least three, evenly spread if the limits are narrow.
[[nodiscard]] std::vector<volts> trim_levels(volts lowest, volts highest);

}  // namespace cvrig
