#pragma once

#include <optional>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Did a step strike the envelopes again? Never judged from the step alone, always against plain
/// struck notes of the same voice.
namespace cvrig::analysis {

/// Probabilities of the three verdicts; they add up to 1 and none goes beyond 0.998.
struct odds {
    double went_on, struck, partial;
};

/// Three records of one voice at the same settings (accent and cutoff included). All are struck by
/// the gate at `struck_at`. The step's pitch moves at `struck_at + wait`, at once or in a glide.
struct strike_case {
    sample_rate rate;
    std::span<const double> reference_from;  ///< pitch `from`, held 0.35 s beyond struck_at + wait
    std::span<const double> reference_to;    ///< pitch `to`, held as long
    std::span<const double> step;            ///< from `from` to `to`, held as long
    std::span<const double> silence;         ///< noise, 0.1 s or more; may be empty
    hertz from, to;                          ///< right within 1 %; may be equal
    seconds struck_at, wait;
};

/// One moment of the step beside what both answers would have looked like.
struct strike_point {
    seconds at;                                         ///< from the step
    decibels level, level_if_went_on, level_if_struck;  ///< re 1 V peak, fundamental
    decibels brightness, brightness_if_went_on,
        brightness_if_struck;  ///< harmonics 2.. re fundamental
};

struct strike_reading {
    odds amplitude, filter;  ///< independent judgements; even odds where refused
    std::optional<refusal> amplitude_refused, filter_refused;
    double amplitude_depth;     ///< 0 went on, 1 struck again
    double u_amplitude_depth;   ///< standard uncertainty of the depth
    double filter_depth;        ///< the same by brightness: for pictures, not for judging
    double amplitude_contrast;  ///< rms difference of both answers over the rms level
    double filter_contrast;     ///< rms difference of both answers, nepers of power relative to the
                                ///< fundamental
    seconds delay;              ///< of the strike after the step; 0 where the envelope went on
    std::vector<strike_point> track;
};

/// Whether the amplitude envelope, and separately the filter envelope, went on, was struck again,
/// or was struck in part at a step.
///
/// Definition: amplitude: level of the step = went on + depth x (struck - went on), least squares
///             over 0.3 s, both courses taken from the references at the same age. The level is the
///             fundamental's, extrapolated to frequency 0 by its next harmonic, so that the filter
///             moves it as little as can be. Filter: which age of the references has the step's
///             relative harmonic levels.
/// Source:     own method; the odds' scales are fitted on simulated voices (tests/accuracy).
/// Input:      finite records, struck_at + wait + 0.15 s or longer; pitch from 25 Hz to a twentieth
///             of the rate; wait at least 0.05 s. The surest step is one semitone: over a fifth or
///             an octave a decay that depends on pitch, or a filter that rests below 3 f0 of the
///             upper note, looks like a strike in part; below 2 f0 a filter strike may look like an
///             amplitude strike. Wait until the level has fallen by 0.7 dB or more, and not much
///             longer than three times the filter's decay (nor until the note has died).
/// Error:      a claim of 0.977 or more is right in at least 97.7 % (scripts/accuracy-strike).
/// Refuses:    bad_argument, not_finite, too_short, silent, no_pitch for the whole; no_contrast for
///             one envelope whose answers cannot be told apart; silent for the filter of a note
///             that has died away by the time of the step.
[[nodiscard]] outcome<strike_reading> judge_strike(const strike_case& c);

/// Odds of several steps of one kind: likelihoods multiplied, counting for at most four steps,
/// since all share one model error. Even odds for an empty list.
[[nodiscard]] odds combine(std::span<const odds> steps);

}  // namespace cvrig::analysis
