#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Notes of a pattern: a few periods long, of which much is known before they are heard.
namespace cvrig::analysis {

/// The pitch that a note is expected to have: one that stands, or one on its way like a capacitor
/// that is charged through a resistor, exponential in volts and so in octaves.
struct expected_pitch {
    hertz from, to;         ///< equal for a pitch that stands
    seconds time_constant;  ///< of the way
    seconds age;            ///< of the way at the record's first sample

    [[nodiscard]] hertz at(seconds since_first_sample) const noexcept;
};

struct short_note_reading {
    cents offset;      ///< mean distance above the expected pitch
    cents u_offset;    ///< standard uncertainty, from how straight the phase runs
    double roughness;  ///< rms distance of the phase from its line, in cycles
    double share;      ///< power of the fundamental over that of the whole note
};

/// How far a note lies off its expected pitch; cheap enough for thousands of notes.
///
/// Definition: the record is demodulated by the expected phase in Hann windows of whole expected
///             periods (two, or as many as 16 ms hold) every half period or less, which a note of
///             the expected pitch leaves with nothing but its fundamental. The slope of the phase
///             from window to window over the expected cycles is the relative difference of pitch.
/// Source:     complex demodulation, standard mathematics (a frequency is a phase over time); zeros
///             of the Hann window: Harris 1978, "On the use of windows for harmonic analysis".
/// Input:      3 expected periods or more, 64 samples or more.
/// Error:      0.1 cents for a steady saw within 10 cents of what is expected, 1.5 within 50
///             (tests/analysis/short_note_test.cpp). Beyond a quarter of an octave the fundamental
///             leaves the windows: then roughness is above 0.02 or share below 0.15, and offset
///             means nothing. A filter that closes turns the phase and so is part of the pitch heard.
/// Refuses:    bad_argument (pitch, rate), too_short, not_finite, silent (constant).
[[nodiscard]] outcome<short_note_reading> read_short_note(std::span<const double> volts,
                                                          sample_rate rate,
                                                          const expected_pitch& expected);

/// What the ear hears as brightness, of a whole record, sample by sample: two band passes of 3 kHz
/// and quality 1 in a row, the same at any sample rate.
///
/// Source:     R. Bristow-Johnson, "Audio EQ Cookbook" (W3C Note, 2021), band pass with 0 dB peak.
/// Input:      finite volts; a rate above 8 kHz. Refuses: bad_argument, not_finite.
[[nodiscard]] outcome<std::vector<double>> bright_part(std::span<const double> volts,
                                                       sample_rate rate);

struct moment_reading {
    decibels level;       ///< re 1 V rms, without DC
    decibels brightness;  ///< power of the bright part over that of all and over pitch / 1 Hz
};

/// How many samples the window of read_moment has at that pitch.
[[nodiscard]] std::size_t moment_samples(hertz pitch, sample_rate rate) noexcept;

/// Level and brightness of a note at one moment, under a Hann window of whole periods as above.
///
/// Definition: brightness counts the power per hertz of pitch, so that a saw or a square under one
///             filter is equally bright at every pitch as long as the fundamental passes unweakened.
/// Source:     our own; that the lines of a saw or square of 1 / k under an envelope of f carry power
///             in proportion to pitch is a Riemann sum.
/// Input:      the note and its bright part over the same samples, moment_samples() or more; the
///             first are used. `pitch` right within 5 %.
/// Refuses:    bad_argument, too_short, silent.
[[nodiscard]] outcome<moment_reading> read_moment(std::span<const double> volts,
                                                  std::span<const double> bright, sample_rate rate,
                                                  hertz pitch);

}  // namespace cvrig::analysis
