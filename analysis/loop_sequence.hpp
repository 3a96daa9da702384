#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

namespace cvrig::analysis {

/// A known sequence of +1 and -1, one value a sample, to be sent through a loop-back cable.
///
/// Definition: the maximal-length sequence of the polynomial x^31 + x^28 + 1; +1 for a 1 of the
///             register, before the inversion that the Recommendation applies.
/// Source:     ITU-T O.150 (05/1996), section 5.8, pseudo-random test sequence 2^31 - 1.
/// Input:      any start; the sequence repeats after 2^31 - 1 samples, half a day at 48 kHz.
[[nodiscard]] std::vector<float> loop_sequence(std::size_t samples, std::size_t first = 0);

/// A place where the record of a sequence does not go on as it should.
struct loop_break {
    std::size_t at_sample{0};  ///< of the record
    /// How many samples are missing (positive) or were repeated or put in (negative).
    std::ptrdiff_t lost_samples{0};
    std::size_t unreadable_samples{0};  ///< around the place, that match no part of the sequence
};

/// What a loop-back cable says about the record beside it.
struct loop_reading {
    double latency_samples{0.0};  ///< at the start, to a fraction of a sample
    double u_latency_samples{0.0};
    double gain{0.0};  ///< received over sent; negative for an inverted cable
    double u_gain{0.0};
    double offset{0.0};      ///< in the units of the samples
    double noise_rms{0.0};   ///< what is left without the sequence
    double rate_error{0.0};  ///< drift of the latency, samples a sample: 0 for one clock
    double u_rate_error{0.0};
    std::vector<loop_break> breaks;  ///< empty: every sample that was sent came back once, in order
};

/// Finds a sent sequence in a record, sample by sample.
///
/// Definition: the path is a filter of 32 taps about the lag, followed block by block by least
///             squares; latency is the slope of its phase from 0.03 to 0.34 of the sample rate, gain
///             that of its low tones (hum and offset below about 700 Hz are set apart). A break is
///             where the likelihood that the sequence goes on falls; its place is the most likely
///             split. Breaks that lie within 2048 samples of each other may be told as one, with
///             what lies between as unreadable.
/// Input:   the record, its frame 0 recorded when the first of `sent_samples` (1024 or more) went
///          out, which is sample `first` of the sequence times `amplitude`; the record goes on for
///          at least the latency after the last. Lags from -60000 to 120000 are searched.
/// Error:   latency below 0.001 samples and gain below 0.5 % through a converter's filters; every
///          single break of 1 to 48000 samples counted right down to 6 dB signal over noise, and
///          placed within 40 samples; two clocks to 200 ppm (tests/analysis/loop_read_test.cpp).
/// Refuses: too_short; silent; not_finite; bad_argument (no amplitude); no_fit when less than an
///          eighth of the sequence is there.
[[nodiscard]] outcome<loop_reading> read_loop(std::span<const float> heard, double amplitude,
                                              std::size_t sent_samples, std::size_t first = 0);

}  // namespace cvrig::analysis
