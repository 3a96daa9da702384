#pragma once

#include <span>

#include "analysis/note_edge.hpp"

/// The fit behind note_edge: when a known waveform rises in a record.
namespace cvrig::analysis {

struct edge_fit {
    double at_samples, u_at_samples;
    double time_samples;
    edge_shape shape;
    double residual_power;  ///< mean square, in the fitted stretch
};

/// Least squares of x = a((i - at) / time) m over `at` and `time`, for both shapes of a.
///
/// Definition: start by exhaustive search over straight edges of 16 lengths, each in constant time
///             from running sums; then descent to 0.002 samples for both shapes; the exponential one
///             counts if it leaves less than 0.7 of what the straight one leaves.
/// Input:      x and m of one length, 16 samples or more; noise_volts the scatter of white noise.
/// Error:      u_at from the curvature and what is left over, with the departures of the gain from
///             the shape, period by period, beyond what the noise explains.
/// Refuses:    too_short, no_fit (not determined).
[[nodiscard]] outcome<edge_fit> fit_edge(std::span<const double> x, std::span<const double> m,
                                         double period_samples, double noise_volts);

}  // namespace cvrig::analysis
