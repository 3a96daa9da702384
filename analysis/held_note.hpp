#pragma once

#include <span>
#include <vector>

#include "analysis/cycles.hpp"
#include "analysis/envelope.hpp"
#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// What every reading of a held note's envelope begins with: its pitch, and its harmonics in
/// windows along it.
namespace cvrig::analysis {

struct held_note {
    hertz pitch;  ///< mean of the note
    cycle_plan plan;
    std::vector<double> at_s;  ///< centres of the windows, from the first sample
    harmonic_frames frames;
};

/// Harmonics of a note at constant pitch, window by window, up to 0.42 of the sample rate.
///
/// Input:      as track_envelope.
/// Refuses:    bad_argument, not_finite, too_short (less than three windows), silent, no_pitch.
[[nodiscard]] outcome<held_note> follow_held_note(std::span<const double> volts, sample_rate rate,
                                                  const envelope_request& request);

/// Level, fundamental and brightness of each window.
///
/// Definition: as envelope_frame says; the lines freed of what resampling does to them.
[[nodiscard]] std::vector<envelope_frame> envelope_of(const held_note& note, sample_rate rate);

}  // namespace cvrig::analysis
