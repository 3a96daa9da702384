#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/tone.hpp"
#include "analysis/units.hpp"
#include "rig/checks/check.hpp"

/// Two notes that should be equal, under a filter that may ring as loudly as they sound.
namespace cvrig {

/// One of them: its sound behind the strike, and what is heard of its pitch.
struct plain_note {
    bool is_heard{false};  ///< above the take's opening silence
    std::span<const double> sound;
    std::span<const double> late;  ///< where what rang at the strike has died away a little
    std::vector<double> clear;     ///< the sound that its tone is read from, darkened or not
    analysis::outcome<analysis::tone_reading> tone{analysis::refuse(analysis::refusal::silent)};
};

struct note_pair {
    plain_note first, last;
};

/// So long must a note be held for its level to be measured.
[[nodiscard]] seconds least_held(hertz expected);

/// Notes of the steps `first` and `last`, which are asked for at `expected`.
///
/// Definition: where either has no clear pitch of its own, or none at all, both are read again
///             darkened above 3 x `expected`: a filter close to whistling rings on from every strike
///             and from all that it sweeps over, and that is no part of the tone.
[[nodiscard]] note_pair hear_notes(const heard_passage& heard, std::size_t first, std::size_t last,
                                   hertz expected);

/// Whether the last note is the first one again: at the same pitch to 50 cents and as clear to 20 dB, or
/// clear by 40 dB, in two fifths of it at least, since a gap of some milliseconds is no noise that stays.
[[nodiscard]] bool is_tone_again(const note_pair& notes, const heard_passage& heard);

struct level_change {
    decibels change;     ///< last re first
    decibels u_noise;    ///< standard uncertainties: noise and what leaks between harmonics
    decibels u_strike;   ///< when each strike was heard
    decibels u_repeat;   ///< what the module itself makes of two equal strikes
    decibels u_ringing;  ///< what rings at its own pitch, at the chance of the strike
};

/// How much louder the last note is: the power of its harmonics 1 to 4.
///
/// What a filter rings at is left out, since its level depends on where in the wave's period the
/// strike fell: with a feedback of 95 % of what makes it whistle, whole notes of the demo module
/// differed by 1.0 dB (rms), their low harmonics by less than 0.01 dB (scripts/coverage).
/// A module that looks for its gate once a block of up to 1 ms lets both notes begin that much later or
/// earlier (type B, GUM 4.3.7; common practice, no source); the fall of the first note tells what
/// that makes. A converter of 12 bits over 5 V may read the cutoff jack one step higher, 0.0015
/// octaves, and then a harmonic on a slope of 24 dB per octave is 0.037 dB louder (type B likewise).
/// Refuses: as windowed_levels.
[[nodiscard]] analysis::outcome<level_change> measure_level_change(const note_pair& notes,
                                                                   const heard_passage& heard);

}  // namespace cvrig
