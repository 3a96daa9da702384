#pragma once

#include <span>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Zipper noise: a control that should move smoothly and moves in steps.
namespace cvrig::analysis {

/// Steps that a course takes at even distances in time. Plain doubles are in the course's unit.
struct zipper_reading {
    double step{0.0};    ///< height of one step; above 0 also where there is none but noise
    double u_step{0.0};  ///< standard uncertainty
    hertz rate;          ///< steps per second
    hertz u_rate;
    seconds first_step{0.0};  ///< time of a step: the first at or behind the first value
    bool stands_out{false};   ///< surely more than noise; if not, `rate` means nothing
    double bound{0.0};        ///< steps above this height would have stood out
    /// The amplitude of the largest other line against this one's; 0 if none stands out of the noise.
    /// Lines at multiples of the rate are no others.
    double rival_share{0.0};
};

struct zipper_request {
    hertz lowest{15.0};  ///< step rates that are looked for
    hertz highest{300.0};
    seconds window{0.0};       ///< Hann window through which each value of the course was seen
    seconds flat_window{0.0};  ///< each is the mean of this time, too
};

/// Steps in the course of something that moves slowly and smoothly.
///
/// Definition: a straight way taken in steps departs from itself by a sawtooth as high as one step,
///             whose first line has the amplitude step / pi. The course less its best polynomial of
///             degree 7, under a Hann window, is searched for the largest such line; its amplitude
///             is freed of what the course's own window took away. It stands out if its power is
///             above n ((M / 1e-4)^(1/n) - 1) times the mean power of the lines around it (their
///             median over ln 2; M: independent rates; n: independent powers in the mean): noise
///             alone has exponentially distributed powers, and does so once in 10,000 records.
///             Whatever has such a line reads as the steps that would have it: those with rounded
///             edges read as lower steps, and a sine as steps pi times its amplitude.
/// Source:     Fourier series of the sawtooth; F. J. Harris 1978, "On the Use of Windows for Harmonic
///             Analysis" (Hann window); E. J. Gumbel 1958, "Statistics of Extremes", 1.2 (largest
///             of M); rate: D. C. Rife, R. R. Boorstyn 1974.
/// Input:      64 or more values at even distances, more than twice the highest rate apart in
///             number; 5 periods of the lowest rate. At most 1.5 periods of the highest rate in
///             `window` and 0.75 in `flat_window`: of a line at 2 and 1 nothing is left to read.
/// Error:      0.5 % of the step where the way is straight; where it bends, the mean step counts,
///             each with the window's weight at its time (tests/analysis/zipper_test.cpp). u comes
///             from what stands about the line once the steps are taken off, so that their own
///             sidelobes are no noise; within some 20 % (scripts/coverage), since the noise of a pitch
///             grows with its rate. What else makes lines is not in it: see `rival_share`.
/// Refuses:    bad_argument, too_short, not_finite.
[[nodiscard]] outcome<zipper_reading> find_zipper(std::span<const double> course, seconds spacing,
                                                  const zipper_request& request);

}  // namespace cvrig::analysis
