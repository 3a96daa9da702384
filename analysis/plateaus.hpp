#pragma once

#include <span>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"
#include "analysis/zipper.hpp"

/// The height of steps from what lies between them.
namespace cvrig::analysis {

/// Plain doubles are in the course's unit.
struct plateau_reading {
    double step{0.0};    ///< height of one step, above 0
    double u_step{0.0};  ///< standard uncertainty, from what the model leaves over
    double spread{0.0};  ///< rms of that
};

/// Mean height of the steps of a course whose rate is known.
///
/// Definition: least squares of a smooth course (a polynomial of degree 7) and steps whose height
///             follows one of degree 2, over the values whose window holds no step; the mean of the
///             steps, each with the weight of a Hann window over the course at its time, which is what
///             the line of find_zipper weighs them with. Time and rate of the steps are those about
///             the given ones that leave the least.
/// Source:     linear regression: standard mathematics. A value that sees a step in its window sees
///             some of the tone's other harmonics, too (control_course), and is left out for that.
/// Input:      as find_zipper, and what it found; steps far enough apart that two values or more
///             between them are clear of both.
/// Error:      0.1 % of the step (tests/analysis/zipper_test.cpp).
/// Refuses:    bad_argument, too_short (steps too near each other, or less than 8 of them), not_finite,
///             no_fit.
[[nodiscard]] outcome<plateau_reading> steps_of_plateaus(std::span<const double> course,
                                                         seconds spacing, seconds window,
                                                         const zipper_reading& found);

}  // namespace cvrig::analysis
