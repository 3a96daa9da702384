#pragma once

#include <span>

#include "analysis/note_edge.hpp"

namespace cvrig::analysis {

/// How a note whose pitch was changed about when it was struck begins.
struct pitch_arrival {
    note_edge start;
    /// From the note's start until its pitch is the one that it keeps; 0 if it began with it.
    seconds wrong_for;
    seconds u_wrong_for;
};

struct arrival_request {
    hertz before, after;  ///< right within 1 %; unlike, by less than a third
    seconds from;         ///< as edge_request
    seconds to;
    seconds longest{0.0045};  ///< how late the pitch may come
};

/// When the pitch of a note that has just begun becomes right.
///
/// Definition: the held wave continued backwards, with the pitch `before` up to a moment tc; tc is
///             where such a wave, as loud as the record is at each time, resembles the record most
///             (least squares); then the start as in note_edge. wrong_for = tc - start, not below
///             0. A change that is spread over some time counts at its mean.
/// Source:     as note_edge; the phase of an oscillator is continuous where its pitch changes.
/// Input:      as measure_note_start; after the change eight periods before `to`. The two pitches
///             differ by less than 1 / (longest + 0.5 ms) in hertz, else tc is ambiguous.
/// Error:      0.05 ms at 60 dB of signal over noise, from 1.2 ms on; a pitch that is wrong for less
///             than some two thirds of a period may read as right
///             (tests/analysis/pitch_arrival_test.cpp).
/// Refuses:    as measure_note_start; no_pitch (the note keeps another pitch than `after`, or
///             begins with one that is neither of the two).
[[nodiscard]] outcome<pitch_arrival> measure_pitch_arrival(std::span<const double> volts,
                                                           std::span<const double> silence,
                                                           sample_rate rate,
                                                           const arrival_request& request);

}  // namespace cvrig::analysis
