#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Places where a held note has lost sound: nothing in the middle of it, or samples that were
/// played twice or left out.
namespace cvrig::analysis {

/// A stretch of nothing inside a sound.
struct gap_in_sound {
    double at_samples{0.0};
    seconds length;
    seconds u_length;
};

/// Gaps of a sounding record.
///
/// Definition: a run of 0.2 ms or more in which every sample lies within five deviations of the
///             noise of the DC, where both neighbouring stretches of 10 ms reach twenty times that,
///             and of which 0.1 ms or more are so in neither the period before nor that behind: a wave may
///             cross zero as slowly as it likes. Five deviations let in 3e-7 samples less than all,
///             so noise does not end a gap. The periods beside a run are the distances up to 25 ms
///             at which the 4 ms before it and behind it come again best.
///             Where the wave itself would cross zero at an end of the run, the gap ends anywhere
///             within that crossing: its middle is taken.
/// Source:     short-term level against its neighbours, common practice, no source; rectangular
///             distribution of an end within a crossing: JCGM 100:2008, 4.3.7.
/// Input:      volts; noise and DC as in silence; the highest pitch that the record should hold.
///             Holes as regular as the wave itself are taken for part of it.
/// Error:      length within half a sample at either end (rectangular, so Ts / sqrt 6), and half of
///             the wave's own crossing at either end.
/// Refuses:    bad_argument (rate, pitch, noise below 0), not_finite, too_short (below 25 ms).
[[nodiscard]] outcome<std::vector<gap_in_sound>> find_gaps(std::span<const double> volts,
                                                           sample_rate rate, cvrig::volts noise,
                                                           cvrig::volts dc,
                                                           hertz highest_pitch = hertz{500.0});

/// The shortest gap that is found, in a note that reaches a hundred times the noise.
inline constexpr seconds shortest_gap_found{2e-4};
inline constexpr double peak_over_noise_for_gaps = 100.0;

/// Sound that goes on earlier or later than it should.
struct slip {
    double at_samples{0.0};
    seconds jump;    ///< above 0: time was lost (samples are missing); below 0: played twice
    seconds u_jump;  ///< standard uncertainty
};

struct slip_reading {
    std::vector<slip> slips;
    seconds smallest;  ///< a slip below this stays unheard
};

/// Slips of a held note: places from which on its phase is ahead or behind.
///
/// Definition: the phase of the fundamental in Hann windows of two periods, every half period; the
///             median of three periods behind a place less that of the three before it, less what
///             the pitch explains, over 2 pi times the pitch. Where that stands out of its median
///             by more than sqrt(2 ln(N / 1e-4)) robust deviations (1.4826 times the median
///             absolute deviation) and by 60 us, a slip is told; the periods right beside it are
///             left out, so a hole whose sound then goes on in time is none. The pitch is mended
///             first by the median of the phase's steps, which no slip moves.
/// Source:     F. R. Hampel 1974 (1.4826: consistent with the normal distribution); demodulation,
///             standard mathematics.
/// Input:      volts of one held note, 12 periods or more; the pitch within 6 %. Slips are known but
///             for whole periods: one of more than half a period is told as its remainder.
/// Error:      below 5 us for a clean note (tests/analysis/dropouts_test.cpp).
/// Refuses:    bad_argument, not_finite, too_short, silent.
[[nodiscard]] outcome<slip_reading> find_slips(std::span<const double> volts, sample_rate rate,
                                               hertz pitch);

}  // namespace cvrig::analysis
