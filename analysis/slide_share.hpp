#pragma once

#include <cstddef>
#include <span>

#include "analysis/outcome.hpp"
#include "analysis/short_note.hpp"
#include "analysis/units.hpp"

namespace cvrig::analysis {

/// A tied note: it sounds on while its pitch goes to another, with or without a slide.
struct tied_notes {
    expected_pitch before;       ///< up to the border
    std::size_t border{0};       ///< the record's sample at which the pitch is told to move
    hertz to{1.0};               ///< where it goes
    seconds time_constant{0.0};  ///< of the slide that might take it there
};

struct slide_share_reading {
    double share;         ///< 0: the pitch jumped; 1: it slid
    double u_share;       ///< standard uncertainty, from how well the phase fits
    double whole_cycles;  ///< by how much a slide falls behind a jump, signed
    double power_share;   ///< power of the fundamental over that of the whole record
};

/// How much of the way between two tied notes was left when a slide would have begun, and died away
/// as that slide does.
///
/// Definition: behind the border the pitch is to * (from / to)^(share * exp(-t / time constant)).
///             The fundamental is demodulated as if the share were one half; its phase is then a
///             straight line before the border, another behind it (two notes may be out of tune by
///             different amounts) and the share's own course, all at once by least squares.
/// Source:     complex demodulation and linear least squares, standard mathematics; the slide is a
///             capacitor charged through a resistor.
/// Input:      3 expected periods before the border, and 2 time constants behind it; from and to
///             differ, by no more than an octave.
/// Error:      0.06 for steady saws up to 4 semitones apart, 0.25 up to 7, from 98 Hz on
///             (tests/analysis/slide_share_test.cpp). A module that moves late by
///             a share of the time constant reads more by that share. A filter whose phase moves at
///             the border by some cycles reads so many over whole_cycles.
/// Refuses:    bad_argument, too_short, not_finite, silent, no_fit.
[[nodiscard]] outcome<slide_share_reading> read_slide_share(std::span<const double> volts,
                                                            sample_rate rate,
                                                            const tied_notes& notes);

}  // namespace cvrig::analysis
