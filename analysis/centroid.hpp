#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// How bright a note of known pitch is: where the middle of its harmonics lies.
namespace cvrig::analysis {

struct centroid_reading {
    volts fundamental;  ///< peak amplitude of the first harmonic
    volts level;        ///< rms of all that count
    double harmonic;    ///< amplitude-weighted mean harmonic number, 1 for a sine
    double u_harmonic;  ///< standard uncertainty, from the residual about the harmonics
};

/// Centroid of a steady note's harmonics.
///
/// Definition: sum of k A_k / sum of A_k over the harmonics k whose peak amplitude A_k stands ten
///             standard uncertainties out of the noise, up to 0.42 of the sample rate. Weighted by
///             amplitude, not power: the power of a saw's lowest harmonics would hide what a filter
///             does to the high ones.
/// Source:     spectral centroid, common practice, no source.
/// Input:      three periods or more of a note at `pitch` (right within 0.2 %).
/// Refuses:    as harmonic_levels; silent if no harmonic stands out.
[[nodiscard]] outcome<centroid_reading> measure_centroid(std::span<const double> volts,
                                                         sample_rate rate, hertz pitch);

struct changing_centroid {
    double harmonic;  ///< at the middle of the record
    double u_noise;   ///< as u_harmonic of one window
    double u_phase;   ///< of the mean, from the scatter of the windows about their straight line
};

/// Centroid of a note that changes while it is read, such as a struck one whose filter closes.
///
/// Definition: the mean (of the logarithms) over eight windows of whole periods that begin an eighth
///             of a period after each other, about the middle of the record. In one window the
///             change leaks between the harmonics by an amount that hangs on where in its period
///             the note was struck; over a whole period that averages out. u_phase is the standard
///             deviation of the mean (GUM 4.2.3).
/// Source:     as measure_centroid; the averaging is our own.
/// Input:      four periods or more of a note at `pitch` (right within 0.2 %).
/// Error:      over all phases of a strike the scatter is below half of one window's, and lies within
///             what is stated (tests/analysis/centroid_test.cpp). What falls so fast that it does
///             not stand out of its own change is left out, so that such a note reads darker.
/// Refuses:    as measure_centroid; too_short.
[[nodiscard]] outcome<changing_centroid> measure_changing_centroid(std::span<const double> volts,
                                                                   sample_rate rate, hertz pitch);

}  // namespace cvrig::analysis
