#pragma once

#include <span>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Two outputs that should carry the same sound: how alike they are.
namespace cvrig::analysis {

struct stereo_reading {
    decibels gain_difference;  ///< right over left
    decibels u_gain;
    bool inverted{false};  ///< right is left upside down
    seconds delay;         ///< right after left
    seconds u_delay;
    decibels null_depth;          ///< rms of (right - left) over rms of left
    decibels aligned_null_depth;  ///< rms of what gain, polarity and delay do not explain in right,
                                  ///< over rms of what they do
};

struct stereo_options {
    /// Searched on either side of 0; at most 1024 samples, or a quarter of a shorter record.
    seconds longest_delay{0.02};
    /// A channel with less rms than this (-98 dBu) has no sound.
    volts quiet{1e-5};
};

/// Compares two channels recorded together; DC is left out (see measure_level).
///
/// Definition: right(t) = gain * left(t - delay) + rest, of least rms rest; a negative gain is
///             "inverted". Null depths are negative for alike channels and end at 20 lg 2^-52
///             = -313 dB, where double precision ends.
///             A steady tone repeats, so its delay is known only to whole periods: of equally good
///             delays the shortest is given. A tone without even harmonics (sine, square,
///             triangle) upside down is also one half a period late: again the shortest is given.
///             Uncertainties come from the rest, in 16 parts of the record, so that a coloured rest
///             counts in full; they hold no share of the bench (clock, input gain).
/// Source:     C. H. Knapp, G. C. Carter, "The generalized correlation method for estimation of
///             time delay", IEEE Trans. ASSP 24(4), 1976; uncertainty by parts: K.-Y. Liang,
///             S. L. Zeger, Biometrika 73(1), 1986.
/// Input:      volts, equal lengths of 1024 samples or more; sound below 0.8 of half the rate.
/// Error:      gain 1e-4 dB, delay 1e-5 sample, aligned null -95 dB, for exact tones.
/// Refuses:    bad_argument (lengths, rate), too_short, not_finite, silent (either channel),
///             no_fit (the channels do not carry the same sound: correlation below 0.5).
[[nodiscard]] outcome<stereo_reading> compare_channels(std::span<const double> left_volts,
                                                       std::span<const double> right_volts,
                                                       sample_rate rate,
                                                       const stereo_options& options = {});

}  // namespace cvrig::analysis
