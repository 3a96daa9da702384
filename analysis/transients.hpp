#pragma once

#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Clicks in a sounding note: sudden changes that are no part of its wave.
namespace cvrig::analysis {

/// One sudden change.
struct click {
    double at_samples{0.0};  ///< from the record's first sample
    volts size;              ///< it sounds as sharp as a step of this height between two samples
    volts u_size;            ///< standard uncertainty
    /// Growth of its abruptness from one time scale to twice that: 0.5 for a single odd sample, 1
    /// for a step, 2 for a corner, which is none.
    double growth{1.0};
};

struct click_reading {
    std::vector<click> clicks;  ///< in the order of time
    volts threshold;  ///< where it was highest, a click of this size is heard 98 times in 100
    volts noise;      ///< of the record's abruptness, where it was least quiet

    /// The largest; null if there is none.
    [[nodiscard]] const click* largest() const noexcept;
};

struct click_request {
    hertz highest_pitch{500.0};  ///< the highest pitch that the record should hold
    double false_alarms{1e-4};   ///< chance of one or more clicks in a record of noise alone
};

/// Finds clicks beside a periodic wave that may have sharp edges, slide, rise and decay.
///
/// Definition: abruptness (transients_scale.hpp) at a width of 30 us, so about 11 kHz counts most.
///             A click is a peak of it that (a) stands out of the noise, (b) does not grow by more
///             than sqrt 2 from 30 to 60 us, by itself or when the wave is taken off as it was a
///             period before, which tells steps and odd samples from corners such as the beginning
///             of a straight attack of 1 ms or more, and (c) has no like at the same place of the
///             period before or behind: an edge of the wave is in every period. The
///             largest edges of the wave mark the periods, so a slide needs no known course. An
///             edge that comes out of turn is a click, too.
///             Noise: from the lower quartile of the abruptness in stretches of 20 ms (of a Rayleigh
///             distribution it is sqrt(2 ln(4/3)) deviations), which edges and clicks hardly move.
///             Threshold: sqrt(2 ln(N / p)) deviations, N the number of 30 us in the record, p
///             `false_alarms`: the chance that the largest of N Rayleigh values passes that is p. A
///             growth has to lie so far below 2, a corner's, that noise seldom brings a corner there.
/// Source:     Mallat and Hwang 1992 (growth); S. Godsill, P. Rayner, "Digital Audio Restoration",
///             1998, chapter 5 (clicks as outliers of a residual against a robust scale); F. R.
///             Hampel 1974, "The influence curve and its role in robust estimation" (quantiles
///             as robust scales); E. J. Gumbel 1958, "Statistics of Extremes", 1.2 (largest of N).
/// Input:      volts, 10 ms or more, at 44.1 kHz or more.
/// Error:      size within 2 % of a step between two samples, and 2 to 9 % below that of a
///             band-limited one at 48 kHz. Resolution: a click within 0.3 ms of an edge of the wave,
///             and smaller than the edge, may be taken for part of it; where periods or their
///             edges are not even (a note begins, ends, jumps or slides fast), within 0.7 ms, if
///             it is as much smaller as an edge rings at that distance (40 dB at 0.7 ms). What
///             takes longer than about 0.1 ms is no click.
/// Refuses:    too_short, not_finite, bad_argument (rate below 40 kHz, pitch or chance).
[[nodiscard]] outcome<click_reading> find_clicks(std::span<const double> volts, sample_rate rate,
                                                 const click_request& request = {});

}  // namespace cvrig::analysis
