#pragma once

#include <span>

#include "analysis/held_wave.hpp"
#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// When a note begins and ends, far finer than a period, and whatever the oscillator's phase.
namespace cvrig::analysis {

enum class edge_shape { straight, exponential };

/// One edge of a note.
struct note_edge {
    seconds at;  ///< where the sound leaves 0, or where it leaves its held level
    seconds u_at;
    seconds time;  ///< of a straight edge from end to end; of an exponential one its time constant
    edge_shape shape{edge_shape::straight};
};

struct edge_request {
    hertz pitch;         ///< right within 1 %
    seconds from, to;    ///< of a beginning: from before it to an end of the held note; of an end:
                         ///< from where the note is held to where it is over
    seconds edge_after;  ///< of an end only: until here the note is held
};

/// When a note begins.
///
/// Definition: t0 of the most likely x(t) = a((t - t0) / time) m(t) + white noise, where m is the
///             waveform of the held note continued backwards (held_wave) and a rises from 0 to 1 in
///             a straight line or as 1 - exp(-u), whichever fits better. No threshold is used, so a
///             slow attack is read as early as a fast one; that the phase at the strike is random
///             does not matter either.
/// Source:     least squares are maximum likelihood in white noise (S. M. Kay, "Fundamentals of
///             Statistical Signal Processing: Estimation Theory", 1993, chapter 8).
/// Input:      silence (or a tail below a tenth of the note) for 1 ms or more from `from` on, and
///             after the attack eight periods before `to`. `silence` says offset and noise.
/// Error:      u_at is the fit's, with what the gain departs from the shape; of an edge shorter than a
///             sample, half a sample. Bias of straight attacks of 0.1
///             to 10 ms below 0.05 % of the attack or a fifth of a sample, of exponential ones
///             below 2 % of the time constant, at 40 to 80 dB of signal over noise
///             (tests/analysis/note_edge_test.cpp).
/// Refuses:    bad_argument, not_finite, too_short, silent, no_pitch, no_fit (already sounding at
///             `from`, or no such edge).
[[nodiscard]] outcome<note_edge> measure_note_start(std::span<const double> volts,
                                                    std::span<const double> silence,
                                                    sample_rate rate, const edge_request& request);

/// When a note begins to end: the same for its release, from the held note continued forwards.
///
/// Input:      eight periods or more from `from` to `edge_after`.
/// Error, Refuses: as measure_note_start.
[[nodiscard]] outcome<note_edge> measure_note_end(std::span<const double> volts,
                                                  std::span<const double> silence, sample_rate rate,
                                                  const edge_request& request);

}  // namespace cvrig::analysis
