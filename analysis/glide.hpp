#pragma once

#include <optional>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

namespace cvrig::analysis {

/// How pitch travels: an RC on the pitch voltage, an RC on the frequency, or a straight ramp of the
/// pitch voltage.
enum class glide_shape { exponential_in_volts, exponential_in_hertz, linear_in_volts };

/// A glide that was played before the one to be measured and goes on until that one starts.
struct earlier_glide {
    hertz from;     ///< where it came from
    seconds since;  ///< its start to the start of the one to be measured
};

/// What is known of a glide before it is measured.
struct glide_request {
    hertz from, to;                 ///< pitches at which the voice rests before and after, or would
    double relative_u_from{0.003};  ///< standard uncertainty of `from` over `from`
    double relative_u_to{0.003};    ///< the same for `to`
    seconds expected_start;         ///< in the record, counted from its first sample
    seconds u_start{0.0015};        ///< standard uncertainty of that
    volts noise_rms{0.0};           ///< measured in silence, full band; 0 = unknown
    hertz mains{50.0};              ///< hum at this and twice and three times this is allowed for
    /// Standard uncertainty of the time constant with which the caller is content: the search for a
    /// better model of the voice ends there. 0 asks for the best.
    seconds u_enough{0.0};
    /// Pitch before the start is then not `from`: it still tends there from an earlier glide, by the
    /// same law as the one to be measured, which sets off from where that has got to. After ten
    /// time constants an octave has 0.05 cents to go, which a clean record shows.
    std::optional<earlier_glide> earlier{};
};

/// Pitch at one moment, for plots: as measured over about one cycle, and as the fitted law says.
struct glide_point {
    seconds at;
    hertz measured, fitted;
};

/// A measured glide. Every `u_` is a standard uncertainty.
struct glide_reading {
    hertz from, to, u_from, u_to;
    /// For linear_in_volts: the duration of the ramp. An exponential is within 5 cents of the end
    /// of an octave after 5.48 time constants, and 10-90 % takes 2.197 of them.
    seconds time_constant, u_time_constant;
    seconds start, u_start;
    glide_shape shape{glide_shape::exponential_in_volts};
    /// The other shapes fit so much worse that n ln(RSS2/RSS1)/2 > 10.
    bool shape_decided{false};
    /// Largest passage beyond the pitch of the record's end; 0 if none stands out of the noise.
    cents overshoot, u_overshoot;
    decibels residual;  ///< RMS of what the model leaves over RMS of the record, in the fitted band
    std::vector<glide_point> course;
    std::optional<earlier_glide> earlier{};  ///< as it was requested
};

/// Time constant, pitches, start and shape of a glide between two tied notes.
///
/// Definition: the waveform itself is fitted, not a track of pitch values: harmonics locked to the
///             phase law of the glide, with amplitudes that are fixed, or shaped by a fixed filter
///             behind the oscillator, under a common exponential decay. Where only the end follows
///             another law, as after an overshoot, the time constant is that of the first 2.5.
/// Source:     variable projection: G. H. Golub, V. Pereyra, SIAM J. Numer. Anal. 10(2), 1973,
///             413-432, with the Jacobian of L. Kaufman, BIT 15, 1975, 49-57; damped steps after
///             D. W. Marquardt, J. SIAM 11(2), 1963, 431-441.
/// Input:      one channel, 16 kHz or more, with at least 60 ms and four cycles before the start;
///             after it 90 ms and, for full accuracy, 6.5 time constants. Pitches 20 Hz to a tenth
///             of the rate, up to four octaves apart; time constants up to 0.5 s.
/// Error:      scripts/accuracy-glide prints it: about 0.001 % (median) of the time constant on
///             wide draws at 40-80 dB, and within 1 % on each of 192 slides of fixed harmonics. The
///             stated uncertainty holds for those; of slides behind a fixed filter one in 30 lies
///             beyond three times it. Behind a filter tuned near or below the pitch, one slide in
///             20 is refused. While a filter moves, a third is refused, and the others are within
///             2.5 % and their stated uncertainty. After an earlier glide with another time constant
///             than its own, what is left of that counts as misfit.
/// Refuses:    bad_argument, not_finite, too_short, silent; no_contrast (the two pitches, or the
///             record, do not differ); no_fit (no model reaches the noise, or the time constant
///             stays more uncertain than half of itself).
[[nodiscard]] outcome<glide_reading> measure_glide(std::span<const double> volts, sample_rate rate,
                                                   const glide_request& request);

struct overshoot_reading {
    cents beyond, u_beyond;  ///< past the pitch at which the record ends; 0 if none stands out
};

/// How far a glide runs past its end, also where measure_glide refuses since no law holds that.
///
/// Definition: pitch over about a cycle at a time; the largest that lies beyond the record's last
///             50 ms, in the direction of the glide, once four fifths of the way are made.
/// Source:     complex demodulation along the likeliest law, standard mathematics.
/// Input:      as measure_glide.
/// Error:      a top is rounded off by windows of two cycles. Between pieces it is read by the
///             parabola through three; what the windows took off is given back, more of it where
///             the course bends at the top alone, which so has an edge. At least 0.3 cents
///             (tests/analysis/glide_test.cpp; half of the tops of scripts/coverage are round).
/// Refuses:    as measure_glide, but not no_fit.
[[nodiscard]] outcome<overshoot_reading> measure_overshoot(std::span<const double> volts,
                                                           sample_rate rate,
                                                           const glide_request& request);

/// The fitted law at a moment of the record.
[[nodiscard]] hertz glide_pitch(const glide_reading& reading, seconds at);

}  // namespace cvrig::analysis
