#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "analysis/units.hpp"
#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/stimulus/passage.hpp"
#include "rig/stimulus/stimulus.hpp"

namespace cvrig {

/// Where a passage sounds, in samples from the start of the take.
struct placed_passage {
    passage asked;
    std::size_t first_sample{0};
    std::vector<std::size_t> step_starts;  ///< one a step; the first is `first_sample`
    std::size_t end_sample{0};             ///< one past the last
};

/// Everything that one take plays.
struct score {
    stimulus volts;
    std::vector<placed_passage> placed;  ///< one a passage asked for, in the order asked
    std::size_t silence_first{0};        ///< every jack rests from here ...
    std::size_t silence_end{0};          ///< ... up to here, so only noise is to be heard
};

inline constexpr seconds lead_in{0.15};
inline constexpr seconds gap{0.06};          ///< before each passage, and after the last
inline constexpr seconds return_time{0.01};  ///< in which the CVs ramp back to rest at the end
inline constexpr seconds longest_take{1800.0};

/// Lays passages out on one time line and says what every output of the bench does meanwhile.
///
/// Layout:  lead-in silence; before each passage a gap with the gates low and the CVs as the
///          passage begins; a gap after the last; the CVs ramp to rest. Passages of different
///          checks that are equal in steps and choice sound once and share their place; a check
///          that asks for the same passage twice hears it twice.
/// Jacks:   "pitch", "gate", "accent" and "slide" follow the step's members of the same name, any
///          other CV jack `step::others`. Jacks that the module does not name stay at 0 V.
/// Error:   a step starts within half a sample of its time after its passage's start, however
///          many steps come before it; a voltage is rounded to float, never across a limit.
/// Refuses: throws user_error, with every complaint, for a voltage outside its output's limits, a
///          jack that the module or the bench lacks, a length that is not above 0, more than
///          `longest_take`. Nothing is ever clamped.
[[nodiscard]] score render(std::span<const passage> passages, const module_expectations& module,
                           const bench& desk);

}  // namespace cvrig
