#pragma once

#include <complex>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"

/// The smooth filter that the odd harmonics of a saw, a square or any blend of both show.
namespace cvrig::analysis {

struct wave_filter {
    /// What a falling saw with these odd harmonics would give at each harmonic, from the first.
    std::vector<std::complex<double>> saw;
    /// Relative standard uncertainty of the even ones' common level, as the odd ones scatter (R. T.
    /// Birge, Phys. Rev. 40, 1932).
    double u_even_level;
    /// How far the mean level of the odd ones, by 1/k^2, departs from the filter's beyond noise,
    /// relative, if each departs by itself; 0 where noise explains it. The even ones depart as far.
    double u_misfit;
    /// Mean power of those departures, in level and phase, relative to the harmonics, by 1/k^2.
    double misfit_power;
};

/// Fits it to the odd harmonics; see profile_of.
///
/// Definition: weighted linear least squares of ln(k |a_k|) on 1, k^2, k^4 and of the phase beyond
///             that of sin(k x) on k, 1/k, k^3.
/// Input:      complex peaks of harmonics 1, 2, ... (cosine phase) and the standard deviation of
///             each component; 9 or more.
/// Error:      see profile_of.
/// Refuses:    silent (an odd harmonic of exactly 0), no_fit.
[[nodiscard]] outcome<wave_filter> fit_wave_filter(std::span<const std::complex<double>> heard,
                                                   std::span<const double> noise);

}  // namespace cvrig::analysis
