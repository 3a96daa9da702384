#pragma once

#include "analysis/glide_fit.hpp"

namespace cvrig::analysis::gliding {

/// Pitch as measured, piece by piece, beside the fitted law.
///
/// Definition: over each piece of about one cycle the residual is explained by a shift of phase;
///             the slope of that shift is added to the fitted pitch.
[[nodiscard]] std::vector<glide_point> course_of(voice_model& model, const voice_fit& fit,
                                                 double origin_s);

/// Largest passage beyond the final pitch, if it stands out of the scatter of the course.
[[nodiscard]] cents overshoot_of(const std::vector<glide_point>& course, const glide_law& law,
                                 double origin_s);

}  // namespace cvrig::analysis::gliding
