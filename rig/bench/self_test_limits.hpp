#pragma once

#include "analysis/units.hpp"

/// What a rig must keep to before it may judge a module, each with its reason. 1 mV on a pitch jack
/// is 1.2 cents.
namespace cvrig::self_test_limits {

/// 0.5 % of 1 V/octave is 6 cents an octave: as much as a module is usually allowed.
inline constexpr double gain_percent = 0.5;
/// 4.8 cents: where detuning begins to be heard (common practice, no source).
inline constexpr volts offset{0.004};
/// 1.2 cents at full level of 1 V; a straight interface stays far below it.
inline constexpr volts departure_at_1_volt{0.001};
/// A time constant of 200 s. Coupling capacitors stay below 50 s (47 uF into 1 megohm).
inline constexpr double droop_percent_a_second = 0.5;
/// 2.4 mV: far below what moves a pitch, and above any sound interface.
inline constexpr dbu noise{-50.0};
/// 1 mV, a vibrato of 1.2 cents.
inline constexpr volts mains_rms{0.001};
/// 7.7 mV: hiss of a module that is 50 dB below its 10 V peak-to-peak passes, a sound does not.
inline constexpr dbu input_at_rest{-40.0};
/// -60 dB: 1 mV for each volt on the channel beside it.
inline constexpr double crosstalk_percent = 0.1;
/// From here on it is no stray coupling but a mixer or a wrong cable.
inline constexpr double mixed_percent = 3.0;
/// One stream has one clock and no drift at all; 10 ppm is above what noise makes of that.
inline constexpr double drift_percent = 0.001;
/// By the computer's clock, whose callbacks come unevenly: it is there to tell 44.1 from 48 kHz.
inline constexpr double rate_percent = 0.5;
/// Converters reach 0.45 of their rate (common practice, no source); a resampler to 44.1 kHz on the
/// way ends about 0.41 of 48 kHz.
inline constexpr double bandwidth_of_rate = 0.43;
/// Longer than any driver's buffers; more means that the record belongs to something else. As much
/// is recorded behind what was sent.
inline constexpr seconds longest_latency{0.5};

}  // namespace cvrig::self_test_limits
