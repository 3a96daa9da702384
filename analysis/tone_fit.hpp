#pragma once

#include "analysis/continuous_spectrum.hpp"
#include "analysis/harmonic_basis.hpp"

namespace cvrig::analysis {

/// Nepers per half record: the spectrum is exact up to there, and a fit goes no further.
inline constexpr double steepest_decay = 3.0;

/// Where a fit begins.
struct tone_start {
    double pitch{0};  ///< radians per unit of grid time
    double decay{0};  ///< nepers per unit of grid time
    double mains{0};  ///< nominal, radians per unit of grid time; 0 for none
    std::size_t harmonics{1};
    double energy{0};      ///< sum of the squared samples
    bool may_decay{true};  ///< if not, the decay stays as it is
    std::size_t most_harmonics{4096};
};

/// A fitted tone, in units of grid time.
struct tone_fit {
    line_frequencies lines;
    line_values amplitudes;    ///< the model is Re(sum of amplitude * exp(s u))
    double residual{0};        ///< sum of squares that the model leaves
    double variance{0};        ///< residual per degree of freedom
    double pitch_variance{0};  ///< of lines.pitch, if the residual is white
    double colour{1};  ///< residual power near the harmonics over that of the whole residual
    bool converged{false};
};

/// Harmonic least squares by Gauss-Newton on closed-form inner products.
///
/// Definition: see measure_tone. The Hessian is exact for the offset, hum, pitch, decay and the
///             lowest harmonics and block-diagonal for the others; gradients are exact, so the
///             minimum is too.
/// Input:      a start within about a tenth of a cycle over the record at the highest harmonic.
[[nodiscard]] tone_fit fit_tone(const continuous_spectrum& spectrum, const tone_start& start);

}  // namespace cvrig::analysis
