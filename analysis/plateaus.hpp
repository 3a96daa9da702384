#pragma once

#include <span>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"
#include "analysis/zipper.hpp"

/// The height of steps from what lies between them.
namespace cvrig::analysis {

/// Plain doubles are in the course's unit.
struct plateau_reading {
    double step{0.0};        ///< height of one step, above 0
    double u_step{0.0};      ///< standard uncertainty from noise
    double u_settling{0.0};  ///< and since steps may be rounded, by so much and so long
    double u_timing{0.0};    ///< and since they may come a little earlier or later
    double u_pattern{0.0};   ///< and where places between steps differ by more than noise lets them
};

/// Mean height of the steps of a course whose rate is known: from settled value to settled value.
///
/// Definition: least squares of a smooth course (a polynomial of degree 7), steps whose height follows
///             a polynomial of degree 2, and an exponential of any size behind each step, which ends
///             at where it settles; over the values whose window holds no step. The mean of the steps,
///             each with the weight of a Hann window over the course at its time, which is what the
///             line of find_zipper weighs them with. Time and rate of the steps are the mean of those about
///             the given ones that leave the least. How steps settle is averaged over
///             (mean_over_settling). u_pattern: the means of what is left at places between the
///             steps, if they scatter by more than noise lets them, seen as a slope that was missed.
/// Source:     linear regression with the correlation of noise in Hann windows that overlap
///             (hann_overlap), Bayesian model averaging: standard mathematics. A value that sees a step
///             in its window sees some of the tone's other harmonics, too (control_course), and is left
///             out for that.
/// Input:      as find_zipper, and what it found; steps far enough apart that two values or more
///             between them are clear of both.
/// Error:      0.1 % of the step (tests/analysis/zipper_test.cpp); noise must be white where the course
///             was seen.
/// Refuses:    bad_argument, too_short (steps too near each other, or less than 8 of them), not_finite,
///             no_fit (also where u_pattern would be above a twentieth of the step: no stairs).
[[nodiscard]] outcome<plateau_reading> steps_of_plateaus(std::span<const double> course,
                                                         seconds spacing, seconds window,
                                                         const zipper_reading& found);

}  // namespace cvrig::analysis
