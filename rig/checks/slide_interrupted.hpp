#pragma once

#include "rig/checks/slide_fit.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

/// The passages that the interrupted slide is compared with.
struct interruption {
    const heard_passage& whole;  ///< a slide that was left to finish, and slid back
    const heard_slide& back;     ///< the fit of its second slide
    const heard_passage& interrupted;
};

/// Once the interrupted slide turns back it should follow the same course as a whole slide back
/// does from the moment that it passes the same pitch. The same window of both courses is compared,
/// so that what a gliding pitch does to the estimator cancels.
void judge_interrupted(findings& out, const check_request& request, const interruption& i,
                       const heard_slide& first);

}  // namespace cvrig
