#pragma once

#include <span>

#include "analysis/line_reader.hpp"
#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// How much noise a record holds, as measured and as heard.
namespace cvrig::analysis {

/// Frequency weighting A.
///
/// Definition: 20 lg of f4^2 f^4 / ((f^2 + f1^2) sqrt(f^2 + f2^2) sqrt(f^2 + f3^2) (f^2 + f4^2)),
///             less its value at 1 kHz.
/// Source:     IEC 61672-1:2013, annex E: f1 = 20.598997, f2 = 107.652649, f3 = 737.862231,
///             f4 = 12194.217148 Hz.
/// Input:      above 0 Hz.
/// Error:      0.05 dB of table 3 at its exact frequencies (the table's rounding).
[[nodiscard]] decibels a_weighting(hertz f) noexcept;

/// A noise level and how many degrees of freedom it rests on.
struct noise_level {
    volts rms;
    double degrees_of_freedom{0.0};

    [[nodiscard]] dbu level() const noexcept;
    /// Standard uncertainty of the level: 4.343 sqrt(2 / degrees of freedom) dB.
    [[nodiscard]] decibels u() const noexcept;
};

struct noise_reading {
    noise_level flat;  ///< nothing but the band's limits
    noise_level a_weighted;
};

/// Noise within a band, unweighted and A-weighted.
///
/// Definition: sum of the power of the bins in the band, Hann window, mean of the record taken
///             away. Degrees of freedom of a sum of bins with powers p:
///             2 c sum(p)^2 / (sum(p^2) / 2), c = (mean w^2)^2 / mean w^4 for the window's
///             correlation of neighbours; the half, since p scatters by as much as itself.
/// Source:     R. B. Blackman, J. W. Tukey, "The measurement of power spectra", 1958 (equivalent
///             degrees of freedom of a chi-square); P. D. Welch, IEEE Trans. Audio
///             Electroacoust. 15, 1967 (one windowed segment); IEC 61672-1:2013 (A).
/// Input:      a record that resolves the band: 8 bins in it or more.
/// Error:      scatter as `u` states for white noise (tests/analysis/noise_floor_test.cpp).
/// Refuses:    too_short (fewer bins), bad_argument (band upside down).
[[nodiscard]] outcome<noise_reading> noise_in_band(const line_reader& spectrum, hertz lowest,
                                                   hertz highest);

}  // namespace cvrig::analysis
