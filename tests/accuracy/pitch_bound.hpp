#pragma once

#include "tests/accuracy/pitch_tones.hpp"

namespace cvrig::accuracy {

/// Smallest standard deviation that any unbiased estimator of the pitch can have, in cents, with
/// the offset, hum (if there is any), decay and all amplitudes and phases unknown: Cramer-Rao bound
/// from the exact Fisher information of the whole model.
[[nodiscard]] cents full_bound(const trial& t);

/// The same with nothing unknown but pitch, amplitudes and phases of a steady tone, asymptotically:
/// var(w) = 24 sigma^2 / (N (N^2 - 1) sum k^2 A_k^2) (Nielsen et al. 2017).
[[nodiscard]] cents harmonic_bound(const trial& t);

}  // namespace cvrig::accuracy
