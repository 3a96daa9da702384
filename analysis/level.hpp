#pragma once

#include <cstddef>
#include <span>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// How loud, how high and whether cut off: the plain numbers of one channel.
namespace cvrig::analysis {

struct level_reading {
    volts peak;    ///< highest sample
    volts trough;  ///< lowest sample
    volts rms;     ///< DC included
    volts dc;      ///< mean
    volts ac_rms;  ///< rms about the mean
    volts u_rms;  ///< standard uncertainty of rms as that of a steady sound of which this is a part
    std::size_t clipped_samples{0};

    [[nodiscard]] volts peak_to_peak() const noexcept { return peak - trough; }
    /// Level of `rms` re 0.7746 V.
    [[nodiscard]] dbu level() const noexcept { return to_dbu(rms); }
    /// Largest magnitude over rms, DC included; 1.4142 for a sine.
    [[nodiscard]] double crest_factor() const noexcept;
};

struct level_options {
    /// So many equal samples in a row at the highest or lowest value count as clipped. Four, since
    /// the crest of a slow sine may repeat a value after coarse quantisation.
    std::size_t shortest_clipped_run{4};
};

/// Measures one channel.
///
/// Definition: samples only, no true-peak interpolation: the peak of a sine of f Hz may be missed
///             by up to 1 - cos(pi f / rate). Clipped samples are those in runs of equal extreme
///             values; a wave whose tops are flat by construction counts as clipped.
///             u_rms: scatter of the mean square of eight parts of the record, each under a Hann
///             window, from one part to the next, so that a slow decay does not count; and, for the
///             ripple of unfinished periods, how far the sum of squares runs about its straight line in
///             the first and the last part.
/// Source:     0 dBu = sqrt(0.6) V rms (IEC 60268 and common audio practice); scatter by successive
///             differences: J. von Neumann et al., Ann. Math. Statist. 12, 1941.
/// Input:      volts, 16 or more samples.
/// Error:      1e-12 relative for rms up to 2^24 samples.
/// Refuses:    too_short, not_finite, silent (rms below 1 nV, -178 dBu: nothing was recorded).
[[nodiscard]] outcome<level_reading> measure_level(std::span<const double> samples_volts,
                                                   const level_options& options = {});

/// The largest magnitude of a record, between its samples too.
///
/// Definition: band-limited interpolation at eighths of a sample on both sides of every sample that
///             is higher than its neighbours and reaches half of the largest one.
/// Source:     ITU-R BS.1770-4 (10/2015), Annex 2, with eight times the rate in place of four.
/// Input:      volts, of a record that goes on for kernel_reach samples at either side; without
///             that its samples count alone.
/// Error:      under-reads a sine of f Hz by up to 1 - cos(pi f / (8 rate)): 1.9 % at half the rate.
[[nodiscard]] volts true_peak(std::span<const double> samples_volts);

/// What noise adds to the largest magnitude of a record, since the largest of many noisy tops is
/// taken.
struct peak_excess {
    volts expected;  ///< to be taken off the peak
    volts u;         ///< standard deviation of what noise adds
};

/// Definition: mean and standard deviation of the largest of n normal values, n being how many
///             samples come within one noise_rms of the peak that is left.
/// Source:     mean: G. Blom, "Statistical Estimates and Transformed Beta-Variables" (1958), normal
///             quantile of (n - 0.375) / (n + 0.25); deviation: tables of order statistics (n = 1:
///             1; 10: 0.587; 100: 0.429), here 1 / sqrt(1 + 0.88 ln n), within 5 % of them.
/// Input:      the peak as `true_peak` reads it, and the rms of the noise in the same record.
[[nodiscard]] peak_excess noise_in_peak(std::span<const double> samples_volts, volts peak,
                                        volts noise_rms);

}  // namespace cvrig::analysis
