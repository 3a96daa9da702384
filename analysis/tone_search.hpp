#pragma once

#include <vector>

#include "analysis/continuous_spectrum.hpp"

namespace cvrig::analysis {

/// Limits of the search, in cycles over the whole record.
struct search_range {
    double lowest{0};
    double highest{0};
    double mains{0};  ///< 0 for none
};

/// A possible pitch, in cycles over the whole record, with the evidence for it.
struct pitch_candidate {
    double cycles{0};
    double score{0};  ///< log-likelihood of the peaks explained, less a price for empty harmonics
    std::size_t harmonics{1};  ///< up to the highest one that stands out of the noise
};

/// Pitches that explain the peaks of the spectrum, best first; none if nothing but noise is there.
///
/// Definition: peaks above the noise, each worth the logarithm of its height over the noise, are
///             matched to a comb; each harmonic without a peak, and each peak off the comb, lowers
///             the score. The logarithm lets a weak harmonic speak beside a resonant one that is 50
///             dB stronger.
/// Input:      any spectrum.
[[nodiscard]] std::vector<pitch_candidate> find_pitches(const continuous_spectrum& spectrum,
                                                        const search_range& range);

}  // namespace cvrig::analysis
