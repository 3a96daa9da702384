#pragma once

#include "analysis/tone_fit.hpp"

namespace cvrig::analysis {

/// Fits a tone and proves that its pitch is neither a fraction nor a multiple of the true one.
///
/// Definition: if only every q-th harmonic stands out of the noise, the pitch is q times higher; if
///             the residual near the harmonics falls to less than 0.4 of itself when there are q
///             times as many of them, the pitch is q times lower (q = 2, 3, 5; at least
///             `least_cycles` in the record; of a note of many harmonics, only if a line between
///             them stands out of that residual).
/// Input:      as fit_tone.
[[nodiscard]] tone_fit fit_true_octave(const continuous_spectrum& spectrum, const tone_start& start,
                                       double least_cycles, double highest_cycles);

}  // namespace cvrig::analysis
