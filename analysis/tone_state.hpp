#pragma once

#include "analysis/continuous_spectrum.hpp"
#include "analysis/tone_hessian.hpp"

namespace cvrig::analysis {

/// Parameters of a tone, and all that a step of the fit needs to know about them.
struct tone_state {
    harmonic_basis basis;
    tone_columns columns;
    line_values level;   ///< sum of residual * exp(s u)
    line_values slope;   ///< sum of residual * u exp(s u)
    double residual{0};  ///< sum of squares that the model leaves

    [[nodiscard]] const line_values& amplitudes() const noexcept { return columns.tone.values; }
    [[nodiscard]] const line_frequencies& lines() const noexcept { return basis.lines(); }
};

/// A precision that keeps a parameter where it is.
inline constexpr double held = 1e30;

/// `energy` is the sum of the squared samples.
[[nodiscard]] tone_state evaluate_tone(const continuous_spectrum& spectrum, double energy,
                                       const line_frequencies& lines, const line_values& amplitudes,
                                       const cycle_fourier& fourier);

/// The state whose amplitudes are those of the spectrum at each line: right for a whole number of
/// periods, and within some per cent for a few.
[[nodiscard]] tone_state first_tone(const continuous_spectrum& spectrum, double energy,
                                    const line_frequencies& lines);

/// The same state in a model with hum lines, which are silent yet.
[[nodiscard]] tone_state with_hum(const continuous_spectrum& spectrum, const tone_state& state,
                                  double mains);

/// Half of the direction in which the squares and the priors' squares fall most.
[[nodiscard]] tone_step gradient_of(const tone_state& state, const tone_priors& priors,
                                    double nominal_mains);

/// The squares and what the priors add to them.
[[nodiscard]] double objective(const tone_state& state, const tone_priors& priors,
                               double nominal_mains);

/// Second derivative of the squares with respect to the mains frequency, one line at a time.
[[nodiscard]] double hum_information(const tone_state& state);

/// Power of the residual in the first three Legendre polynomials of time about each harmonic,
/// weighted as the harmonics count for the pitch, over what white noise of the same total power has
/// there.
[[nodiscard]] double residual_colour(const continuous_spectrum& spectrum, const tone_state& state,
                                     double variance);

}  // namespace cvrig::analysis
