#pragma once

#include <vector>

#include "analysis/glide_fit.hpp"

namespace cvrig::analysis::gliding {

/// First values of a voice's filter for a known law, by linear least squares alone.
///
/// Definition: a voice y behind an all-pole filter 1/D satisfies D y = x with x of fixed harmonics:
///             linear in the coefficients of D *and* in the harmonics. Both sides pass through the
///             last 1/D, which whitens the noise again; the D is sought of which x leaves the least
///             share. Magnitudes are trusted more than phases: poles on the wrong side of the axis
///             are mirrored and the start moves by the delay that this adds.
/// Source:     equation error with pre-filtering after K. Steiglitz, L. E. McBride, "A technique
///             for the identification of linear systems", IEEE Trans. Automatic Control 10(4),
///             1965, 461-464.
[[nodiscard]] voice_state by_equation_error(voice_model& model, const Eigen::VectorXd& volts,
                                            voice_state state, int rounds);

/// Typical filters at several cutoffs, the equation error from the best of them, and one more from
/// a neutral filter: those that fit best, best first.
[[nodiscard]] std::vector<voice_state> filter_starts(voice_model& model,
                                                     const Eigen::VectorXd& volts,
                                                     const glide_law& law, double decay_per_s,
                                                     std::size_t most);

}  // namespace cvrig::analysis::gliding
