#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// What of a note is no harmonic of it: aliases, beats, noise beyond that of silence.
namespace cvrig::analysis {

struct inharmonic_reading {
    decibels level;  ///< power of what is inharmonic over that of the harmonics
    decibels u;
    hertz loudest;              ///< where most of it stands
    decibels noise_of_silence;  ///< what was taken away for noise, over the harmonics
};

/// Inharmonic energy of a steady note.
///
/// Definition: power of all bins from half the pitch up to the lower of 20 kHz and 0.45 of the
///             rate that are more than 6 bins from a multiple of the pitch, less that of the same
///             record's noise as the silence has it, over the power of the bins at multiples. What
///             falls on a harmonic cannot be told from it. Where noise hides the rest, it reads as
///             high as the noise could make it.
/// Source:     aliases of harmonic k of a naive wave at |k pitch - m rate|: the sampling theorem;
///             F. J. Harris 1978 (minimum 4-term window, side lobes below -92 dB); degrees of
///             freedom as in noise_in_band.
/// Input:      volts of a note and of a silence before it, at one rate; 32 bins or more between
///             harmonics.
/// Error:      0.1 dB at -60 dB (tests/analysis/wave_profile_test.cpp).
/// Refuses:    too_short, not_finite, silent (nothing at the multiples), bad_argument.
[[nodiscard]] outcome<inharmonic_reading> measure_inharmonic(std::span<const double> note_volts,
                                                             std::span<const double> silence_volts,
                                                             sample_rate rate, hertz pitch);

}  // namespace cvrig::analysis
