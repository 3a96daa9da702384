#pragma once

#include <span>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Pitch of a moving tone against a course that it is expected to follow.
namespace cvrig::analysis {

struct course_reading {
    cents offset;    ///< mean distance above the course between the two windows' centres
    cents u_offset;  ///< standard uncertainty: how much other window lengths disagree, and noise
};

/// How far a tone lies off an expected course of pitch, for records too short and too fast for a
/// pitch fit.
///
/// Definition: the first harmonic is demodulated by the course's phase in two Hann windows of two
///             thirds of the record; the turn of its phase from one to the other, over the time
///             between their centres (a third of the record), is the mean difference of frequency
///             there.
/// Source:     complex demodulation, standard mathematics (a frequency is a phase over time).
/// Input:      volts; one course pitch a sample; four periods or more in all; noise as measured in
///             silence, full band and taken as white, 0 if unknown.
/// Error:      a few cents where harmonics leak into the windows; two records of one course are
///             best compared, since that cancels (tests/analysis/course_test.cpp).
/// Refuses:    bad_argument (lengths, pitch, noise), too_short, not_finite, silent.
[[nodiscard]] outcome<course_reading> measure_offset(std::span<const double> record,
                                                     std::span<const hertz> course,
                                                     sample_rate rate,
                                                     volts noise_rms = volts{0.0});

}  // namespace cvrig::analysis
