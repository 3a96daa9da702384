#pragma once

#include "analysis/glide_phase.hpp"
#include "analysis/glide_record.hpp"

namespace cvrig::analysis::gliding {

/// Pitch as measured, piece by piece, beside a law that it follows roughly.
///
/// Definition: the first harmonic is demodulated by the law's phase over two cycles at a time; how
///             its phase runs away from the law's is added to the law's pitch. The law may be wrong
///             by anything up to half a cycle from one piece to the next.
/// Source:     complex demodulation, standard mathematics (a frequency is a phase over time).
[[nodiscard]] std::vector<glide_point> course_of(const band_record& record, const glide_law& law,
                                                 double origin_s);

/// Largest passage beyond the pitch at which the record ends, if it stands out of the scatter of
/// the pieces there; else 0, with an uncertainty that covers what may hide in it.
[[nodiscard]] overshoot_reading overshoot_of(const std::vector<glide_point>& course,
                                             const glide_law& law, double origin_s);

}  // namespace cvrig::analysis::gliding
