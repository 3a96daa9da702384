#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rig/checks/pattern_readings.hpp"

/// What is wrong with single steps of a pattern.
namespace cvrig {

/// What the file demands of a step, as far as it does.
struct step_demands {
    std::optional<limit> pitch, slid_pitch, accent;
    std::optional<bool> slide_strikes, tie_strikes;
};

/// An answer of one step to one question: empty where it could not be told surely.
using told = std::optional<bool>;

struct judged_step {
    std::optional<reading> pitch;   ///< cents off
    std::optional<reading> accent;  ///< decibels above a plain step, of an accented one
    bool asked_strike{false};
    told struck_right;
    bool asked_slide{false};  ///< it is tied: does its pitch slide or jump?
    told slid;
    bool open{false};                ///< at least one question could not be told
    std::vector<std::string> wrong;  ///< one phrase for each thing
};

struct judged_pattern {
    std::vector<judged_step> steps;
    double slide_excess{0.0};  ///< what slides have left while they are read, over what is declared
    std::optional<std::string> doubt;  ///< why nothing could be judged
};

/// The chance that one question about a step that is right is answered wrong: 1 in 10 million. An
/// hour of 32,000 steps asks three questions of each, so that one hour in a hundred would have one
/// false alarm at worst; 25 units of the demo module with 512 steps each have none
/// (tests/rig/pattern_check_test.cpp tries three of them).
inline constexpr double most_false_alarms = 1e-7;

/// Judges each step beside the others of its kind.
///
/// Strike:  level and brightness behind the step are compared with what they would be if the
///          envelopes had gone on (the step before, continued) and if they had been struck (the
///          pattern's own struck steps at that pitch), as a likelihood ratio of two normal laws whose
///          widths are the scatter of the struck steps. Wrong only if the ratio is beyond 1 to
///          most_false_alarms: under the declared behaviour it gets there no oftener than that,
///          whatever the laws' distance (Markov's inequality). Right from 0.977 on; otherwise open.
/// Accent:  level above the plain struck steps at that pitch.
/// Pitch:   off the expected pitch by more than the limit and five standard uncertainties. Slid
///          steps: what all of them have in common in proportion to their intervals (a time constant
///          a little off, a late module) is the check slide's business and taken out first.
/// Slide:   whether a tied step slides or jumps, by the share of a slide that its phase shows across
///          the border (analysis/slide_share.hpp), or over a wide interval by its pitch; told only
///          where both answers lie 5.3 standard uncertainties from the middle between them.
[[nodiscard]] judged_pattern judge_steps(const check_request& request, const pattern_part& part,
                                         const pattern_readings& heard,
                                         const step_demands& demanded);

}  // namespace cvrig
