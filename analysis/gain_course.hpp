#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Gain of a sound against one of its own cycles: an envelope in windows far shorter than a period.
namespace cvrig::analysis {

struct gain_point {
    seconds at;     ///< centre of the window, from the first sample
    double gain;    ///< 1 where the sound is as loud as its cycle
    double u_gain;  ///< standard uncertainty, from the noise
};

struct gain_request {
    hertz pitch;       ///< right within 0.1 %
    seconds cycle_at;  ///< where the cycle begins that stands for the sound
    seconds from, to;
    seconds window{0.0005};
};

/// Gain against time, in windows side by side.
///
/// Definition: with m the cycle from `cycle_at` repeated at the pitch, forwards and backwards, and
///             d the mean of the silence, gain = sum of m (x - d) / sum of m m over a window.
///             Windows in which the cycle has less than a hundredth of its mean power, or an edge
///             (four times its mean squared slope), are left out: a filter that moves shifts an
///             edge.
/// Source:     least squares (standard mathematics).
/// Input:      a note whose waveform hardly changes meanwhile; `silence` is what the jack gives
///             when nothing sounds: its mean is the offset, its scatter the noise.
/// Refuses:    bad_argument, not_finite, too_short (no whole cycle, or no silence), silent (the
///             cycle is no louder than ten times the noise).
[[nodiscard]] outcome<std::vector<gain_point>> track_gain(std::span<const double> volts,
                                                          std::span<const double> silence,
                                                          sample_rate rate,
                                                          const gain_request& request);

}  // namespace cvrig::analysis
