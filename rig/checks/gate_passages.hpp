#pragma once

#include <vector>

#include "rig/checks/check.hpp"

/// What the gate check plays. All of it at one pitch; a passage is there only if the file demands
/// something of it.
namespace cvrig {

/// One slow rise and fall of the gate.
struct slow_gate {
    std::size_t rise_step, rise_end;  ///< first step of the rise, and one past its last
    std::size_t fall_step, fall_end;
    bool rough;  ///< in small steps up and down, as a noisy source gives it
};

/// A few hard notes to compare with, then slow gates.
struct slow_tune {
    passage played;
    std::vector<std::size_t> hard_notes;  ///< steps
    std::vector<slow_gate> slow;
};
[[nodiscard]] slow_tune slow_gates(const check_request& request);

/// Triggers of one width at random times; every second step is a trigger.
struct trigger_tune {
    passage played;
    seconds width;
};
[[nodiscard]] std::vector<trigger_tune> triggers(const check_request& request);

/// Gates that follow each other fast.
[[nodiscard]] passage fast_gates(const check_request& request);

[[nodiscard]] bool asks_for_slow(const check_request& request);
[[nodiscard]] bool asks_for_triggers(const check_request& request);
[[nodiscard]] bool asks_for_fast(const check_request& request);

[[nodiscard]] volts gate_note(const check_request& request);

/// How many of these triggers must be struck for a width to count as never missed.
inline constexpr double sure_share = 0.9;

}  // namespace cvrig
