#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Envelopes of a held note: level and brightness against time, and what their courses say.
namespace cvrig::analysis {

/// One window of a note.
struct envelope_frame {
    seconds at;           ///< centre of the window, from the first sample
    hertz pitch;          ///< mean pitch of the note
    volts level;          ///< rms of all harmonics
    volts fundamental;    ///< peak amplitude of the first harmonic
    decibels brightness;  ///< 10 lg of the power of harmonics 2 and up over that of the first
};

struct envelope_request {
    hertz pitch;  ///< right within 2 %
    seconds window{0.012};
    seconds hop{0.002};
};

/// Level, fundamental and brightness of a note at constant pitch, frame by frame.
///
/// Definition: Hann windows of max(2, round(window x pitch)) whole cycles; harmonics up to 0.42 of
///             the sample rate are counted, so noise between them is not.
/// Source:     common practice (pitch-synchronous Fourier series), no source.
/// Input:      finite volts, at least three windows long; pitch from 20 Hz to a twelfth of the
///             rate.
/// Error:      steady band-limited sounds below 0.01 dB (tests/analysis/envelope_test.cpp). A
///             change faster than the window is smoothed by it; where the first harmonic is
///             missing, brightness is only a large number.
/// Refuses:    bad_argument, not_finite, too_short, silent (no sound at all), no_pitch.
[[nodiscard]] outcome<std::vector<envelope_frame>> track_envelope(std::span<const double> volts,
                                                                  sample_rate rate,
                                                                  const envelope_request& request);

enum class envelope_track { level, fundamental, brightness };

struct decay_reading {
    seconds time_constant;  ///< for a fall by the factor e (8.686 dB) of the tracked voltage
    seconds u_time_constant;
    volts level_at_start;   ///< the fitted line at `from`; for brightness, the ratio of voltages
    decibels fit_residual;  ///< rms distance of the frames from the line
};

/// Time constant of an exponential decay: a straight line in decibels, least squares.
///
/// Definition: 20 lg v(t) = 20 lg v(from) - (20 / ln 10) (t - from) / time constant. 60 dB of fall
///             take ln(1000) = 6.907755 time constants.
/// Error:      u from the residuals, widened for neighbours that share a window by sqrt((1 + r) /
///             (1 - r)), r the residuals' lag-one correlation.
/// Refuses:    too_short (less than 6 frames in the range), silent, no_fit (not falling by twice
///             its uncertainty).
[[nodiscard]] outcome<decay_reading> measure_decay(std::span<const envelope_frame> frames,
                                                   seconds from, seconds to, envelope_track which);

struct attack_reading {
    seconds onset;  ///< when the sound starts
    seconds u_onset;
    seconds rise_10_90;  ///< from 10 to 90 % of the level after the attack
    volts peak;  ///< largest magnitude from the gate to four periods (at least 60 ms) after onset
};

/// Start and rise time of a struck note, finer than a period.
///
/// Definition: the gain g(t) of the sound against its own cycles just after the attack, repeated
///             backwards; least squares in windows of a sixteenth of a period, at least 0.5 ms.
///             onset = t10 - (t90 - t10)/12, midway between a straight ramp (1/8) and a one-pole
///             rise (0.048); the difference is part of u_onset.
/// Source:     10 to 90 % of a one-pole rise is ln 9 = 2.197225 time constants (standard
///             mathematics).
/// Input:      silence, or noise, for 5 ms or more before the gate, four periods and 60 ms of note.
/// Error:      rise within 10 % or 0.5 ms, onset within 0.5 ms (tests/analysis/envelope_test.cpp),
///             if the waveform changes little meanwhile.
/// Refuses:    bad_argument, not_finite, too_short, silent, no_pitch, no_fit (already sounding at
///             the gate).
[[nodiscard]] outcome<attack_reading> measure_attack(std::span<const double> volts,
                                                     sample_rate rate, hertz pitch,
                                                     seconds gate_at);

}  // namespace cvrig::analysis
