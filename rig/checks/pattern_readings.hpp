#pragma once

#include <optional>
#include <vector>

#include "analysis/short_note.hpp"
#include "analysis/slide_share.hpp"
#include "rig/checks/check.hpp"
#include "rig/checks/pattern_steps.hpp"

/// What is heard of each step of a pattern, before anything is judged.
namespace cvrig {

/// Level and brightness about a moment of a step.
struct pattern_moment {
    double at_s;     ///< since the step's start
    double pitch_v;  ///< that the expected course has there
    double level_db, brightness_db;
};

struct step_reading {
    double length_s{0.0};         ///< of its gate, or of the rest
    double rms_volts{0.0};        ///< in what must sound of a note, or in all of a rest
    std::optional<cents> offset;  ///< off the expected pitch; empty if it could not be read
    cents u_offset;
    bool is_another_pitch{false};  ///< surely not the expected one, and no steady other one
    double left_share{
        0.0};  ///< of a slide: how much of its interval is left while its pitch is read
    std::optional<pattern_moment> early, late;
    /// Of a tied or slid step over a small interval: how much of a slide it makes (1: it slides, 0:
    /// it jumps); empty where that could not be read.
    std::optional<analysis::slide_share_reading> slide;
};

/// A stretch in which a note should have sounded and nothing did.
struct silent_stretch {
    seconds from, to;        ///< since the part's start
    bool cut_a_note{false};  ///< began, ended or lay across notes: no lost gate does that
};

struct pattern_readings {
    std::vector<step_reading> steps;
    std::vector<silent_stretch> silences;
    volts loudest_silence{0.0};  ///< what counts as silence, rms
    bool sounds{false};          ///< at all
};

[[nodiscard]] pattern_readings read_pattern(const check_request& request, const pattern_part& part,
                                            const heard_passage& heard);

}  // namespace cvrig
