#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "rig/checks/check.hpp"

/// What the check `pattern` plays: a random bass line, step by step.
namespace cvrig {

/// One step of the line. The first of a part is always plain and struck; a rest or a struck step
/// begins with the gate low before it.
struct pattern_step {
    enum class kind { rest, struck, tied, slid };
    kind what{kind::struck};
    volts pitch{0.0};
    volts before{0.0};  ///< pitch of the step before
    bool accent{false};
    bool held{false};            ///< the gate stays high to its end, since the next step is tied
    std::size_t played_step{0};  ///< the passage's step that begins it
};

/// Steps of one part of a pattern, and how the file wants them.
struct pattern_part {
    std::size_t first{0};  ///< number of its first step in the whole pattern, from 1
    seconds begins{0.0};   ///< of it in the whole pattern, gaps between takes left out
    std::vector<pattern_step> steps;
};

/// Some hours of short steps; whoever asks for more has slipped by some zeros.
inline constexpr double most_pattern_steps = 100'000.0;

/// In how many takes the pattern is played: of at most 256 steps, all about as long.
[[nodiscard]] std::size_t pattern_parts(const check_request& request);

/// The steps of `request.part`, the same for every mode, machine and compiler.
[[nodiscard]] pattern_part pattern_of(const check_request& request);

/// The same as volts to play.
[[nodiscard]] std::vector<passage> pattern_passages(const check_request& request);

/// Time constant that the file declares for slides.
[[nodiscard]] seconds pattern_slide_time(const check_request& request);

/// "step 117, slid 1.0833 V to 2 V".
[[nodiscard]] std::string name_of_step(const pattern_part& part, std::size_t index);

}  // namespace cvrig
