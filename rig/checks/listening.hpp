#pragma once

#include <cstddef>
#include <span>

#include "analysis/tone.hpp"
#include "analysis/units.hpp"
#include "rig/checks/check.hpp"

namespace cvrig {

/// Part of a record, clipped to it: from `begin` to `end` in samples.
[[nodiscard]] std::span<const double> part(std::span<const double> record, std::size_t begin,
                                           std::size_t end);

/// Part of step `index` of a passage as one jack gave it: `skip` after the step's start (attack and
/// converter settling) until `early` before its end.
[[nodiscard]] std::span<const double> part_of_step(const heard_passage& heard, std::size_t jack,
                                                   std::size_t index, seconds skip, seconds early);

/// Root mean square of a record about its mean; 0 for an empty one.
[[nodiscard]] volts noise_of(std::span<const double> silence);

/// Whether a record of one jack is louder than the take's opening silence by so much that there is
/// more in it than noise.
[[nodiscard]] bool sounds(const heard_passage& heard, std::size_t jack,
                          std::span<const double> record);

/// The pitch of a note that should sound at `expected`: searched within two octaves either side
/// first, so that an octave error is found and named, then over the whole range.
[[nodiscard]] analysis::outcome<analysis::tone_reading> pitch_near(std::span<const double> record,
                                                                   sample_rate rate,
                                                                   hertz expected);

/// Standard uncertainty of a pitch interval from the bench's pitch voltage, in cents.
[[nodiscard]] cents bench_pitch_uncertainty(const check_request& request);

/// Standard uncertainty of the difference of two notes beyond what their estimators say: a module's
/// blocks and its converter's steps fall otherwise at every strike, and no reading of one strike shows
/// that. 0.003 cents (type B, GUM 4.3): in 14 live runs of the demo module against its program, six
/// readings of hysteresis and arrival differed by 0.0015 to 0.0036 cents. Far below any tolerance.
[[nodiscard]] cents strike_repeatability();

/// Standard uncertainty of a pitch from the sample clock, in cents.
[[nodiscard]] cents clock_pitch_uncertainty(const check_request& request);

/// Relative standard uncertainty of the gain of the recorded jack `jack`, in decibels.
[[nodiscard]] decibels gain_uncertainty(const check_request& request, std::size_t jack);

/// A parameter of the file, in its base unit, or `otherwise`.
[[nodiscard]] double parameter(const check_request& request, const char* key, double otherwise);

}  // namespace cvrig
