#pragma once

#include <string>
#include <vector>

#include "analysis/pitch_arrival.hpp"
#include "analysis/spread.hpp"
#include "rig/checks/latency_passages.hpp"

/// What the latency check reads.
namespace cvrig {

/// Every gate of one passage that was answered.
struct gate_delays {
    hertz pitch;
    std::vector<double> sent_s;   ///< when each gate rose, from the passage's start
    std::vector<double> delay_s;  ///< from the gate to the start of the sound
    std::vector<double> u_s;      ///< of each, as the fit sees it
    std::size_t unanswered{0};

    [[nodiscard]] double u_each() const;  ///< root mean square of u_s
};

/// Refuses: silent, no_pitch (no note has one), or why the last note could not be read.
[[nodiscard]] analysis::outcome<gate_delays> read_delays(const check_request& request,
                                                         const heard_passage& heard);

/// How one note of notes_with_leads() began.
struct lead_answer {
    seconds lead;
    bool kept{false};  ///< it kept the pitch before to its end
    seconds wrong_for, u_wrong_for;
};

/// The notes that could be read, in the order in which they sounded. Refuses as read_delays.
[[nodiscard]] analysis::outcome<std::vector<lead_answer>> read_leads(const check_request& request,
                                                                     const heard_passage& heard);

/// The shortest lead of the pitch CV before the gate with which every note has its pitch from the
/// start.
struct lead_needed {
    seconds lead;
    std::vector<analysis::contribution> budget;
    std::string how;  ///< one phrase
};

/// Definition: a note whose pitch comes late by W after its start, with the lead L, needed L + W.
///             If the late notes become right while they sound, the needed leads scatter uniformly
///             by the module's block, of which the upper end is taken (spread). Otherwise, or if
///             notes with a longer lead begin wrong all the same, the lead lies between the longest
///             that was wrong and the shortest from which on all were right. One note that keeps
///             the pitch before although others with its lead or a shorter one are right is none of
///             the lead's business (a stale pitch) and is left out.
/// Input:      `apart` is the distance of the two pitches.
/// Refuses:    too_short (less than eight late notes read).
[[nodiscard]] analysis::outcome<lead_needed> needed_lead(std::span<const lead_answer> answers,
                                                         hertz apart, double coverage_factor);

}  // namespace cvrig
