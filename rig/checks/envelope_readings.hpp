#pragma once

#include <optional>
#include <string>
#include <vector>

#include "analysis/envelope.hpp"
#include "analysis/release.hpp"
#include "rig/checks/check.hpp"

namespace cvrig {

/// The long note while its gate is high.
struct held_course {
    hertz pitch;                                   ///< as it sounds
    std::vector<analysis::envelope_frame> frames;  ///< freed of what the filter does to them
    analysis::outcome<analysis::decay_reading> decay;
    seconds u_bend;      ///< how unlike the time constants of its two halves are
    seconds u_filter;    ///< what the closing filter may have left in the time constant
    decibels sustained;  ///< its level 0.65 s after the strike, re that 50 ms after it
};

/// Refuses as track_amplitude; silent also where the note starts less than 20 dB above the noise.
[[nodiscard]] analysis::outcome<held_course> read_held(const check_request& request,
                                                       const heard_passage& heard);

/// What follows the end of a gate.
struct let_go {
    std::string name;  ///< "the short note"
    seconds gate_held;
    seconds gate_falls;  ///< from the passage's start
    std::vector<analysis::gain_point> course;
    analysis::outcome<analysis::release_reading> release;
    analysis::outcome<analysis::tail_reading> tail;
};

/// Refuses as track_gain.
[[nodiscard]] analysis::outcome<let_go> read_release(const check_request& request,
                                                     const heard_passage& heard, std::size_t note,
                                                     std::string name, hertz pitch);

/// A strike into a note that is falling.
struct second_strike {
    seconds gate_falls, gate_rises;
    std::vector<analysis::gain_point> course;
    analysis::restrike_reading reading;
};

/// `rest` is the step of the gap before it. Refuses as track_gain and measure_restrike.
[[nodiscard]] analysis::outcome<second_strike> read_second_strike(const heard_passage& heard,
                                                                  std::size_t rest, hertz pitch);

/// Rise from 10 to 90 % of the note in step `note`. Refuses as measure_attack.
[[nodiscard]] analysis::outcome<seconds> read_attack(const heard_passage& heard, std::size_t note,
                                                     hertz pitch);

}  // namespace cvrig
