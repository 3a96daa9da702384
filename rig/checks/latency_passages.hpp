#pragma once

#include <vector>

#include "rig/checks/check.hpp"

/// What the latency check plays.
namespace cvrig {

/// Gates at random times, one pitch. Steps: a rest, a note, a rest, a note, ... The first note here, and
/// that of notes_with_leads(), only wakes the module up.
[[nodiscard]] passage gates_at_random(const check_request& request);

/// One note whose pitch CV moves `lead` before the gate, or after it where `lead` is below 0.
struct lead_note {
    seconds lead;
    std::size_t gate_step;  ///< in which the gate rises
    std::size_t last_step;  ///< at whose end it falls
    bool upward;            ///< the pitch moves to the upper of the two
};

/// Notes whose pitch CV moves shortly before or after the gate, and where they are in the passage.
struct lead_tune {
    passage played;
    std::vector<lead_note> notes;
};
[[nodiscard]] lead_tune notes_with_leads(const check_request& request);

struct latency_pitches {
    volts upper, lower;
};
[[nodiscard]] latency_pitches pitches_of(const check_request& request);

/// Whether the file asks for anything that gates at random, or leads, are played for.
[[nodiscard]] bool asks_for_delay(const check_request& request);
[[nodiscard]] bool asks_for_lead(const check_request& request);

}  // namespace cvrig
