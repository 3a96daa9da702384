#pragma once

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Steady lines of known or roughly known frequency in a long record.
namespace cvrig::analysis {

/// A level from an amplitude that noise may hide: never below what the noise itself could be.
struct line_level {
    dbu level;
    decibels u;  ///< standard uncertainty by noise
};

/// Level of a line of which the amplitude estimate is `peak`, with noise of standard deviation `u`
/// in each of its two components.
///
/// Definition: power |peak|^2 - 2 u^2, of variance 4 P u^2 + 4 u^4; where that power is below its
///             own standard deviation, the standard deviation stands for it, so that a line that is
///             not there reads as high as noise could make it, within 4.3 dB.
/// Source:     S. O. Rice, "Mathematical analysis of random noise", Bell Syst. Tech. J. 24, 1945,
///             section 3.10 (a sine and noise); moments of a squared normal amplitude.
[[nodiscard]] line_level level_of_line(volts peak, volts u) noexcept;

/// Reads the amplitude and phase of a line at any frequency from one transform of the record.
///
/// Definition: 2 sum(x w^2 exp(-i 2 pi f t)) / sum(w^2), w the Hann window: the record's mean is
///             taken away, time counts from the first sample, cosine phase. The sum is taken over
///             the eleven bins about f, beyond which the windows' transforms have died away.
/// Source:     F. J. Harris, Proc. IEEE 66(1), 1978 (cos^4 window); Parseval's theorem.
/// Input:      volts, 64 samples or more; less than 5 % at the end stay unused from 1000 on.
/// Error:      1e-4 of a line 12 bins away from 0 Hz, half the rate and every other line
///             (tests/analysis/noise_floor_test.cpp).
/// Refuses:    too_short, not_finite, bad_argument (rate).
class line_reader {
public:
    [[nodiscard]] static outcome<line_reader> of(std::span<const double> samples_volts,
                                                 sample_rate rate);

    /// Peak volts of the line at f, as a complex number with its phase.
    [[nodiscard]] std::complex<double> at(hertz f) const;
    /// Standard deviation of each component of `at` by the noise about f, by the median of the
    /// bins 8 to 32 away on either side: lines among them hardly count.
    [[nodiscard]] volts noise_near(hertz f) const;

    /// Power in a bin, in volts squared, so that the sum over bins is the mean square of noise.
    [[nodiscard]] double power_in_bin(std::size_t bin) const noexcept;
    [[nodiscard]] hertz bin_width() const noexcept { return bin_width_; }
    [[nodiscard]] std::size_t bins() const noexcept { return bins_.size(); }
    /// Frequency of the line that stands highest at `bin`, from it and its higher neighbour.
    ///
    /// Source: T. Grandke, "Interpolation algorithms for discrete Fourier transforms of weighted
    ///         signals", IEEE Trans. Instrum. Meas. 32, 1983 (Hann).
    [[nodiscard]] hertz interpolated(std::size_t bin) const;
    [[nodiscard]] std::size_t samples_used() const noexcept { return used_; }

private:
    [[nodiscard]] std::complex<double> bin_at(std::ptrdiff_t k) const noexcept;

    std::size_t used_{0};
    hertz bin_width_{0.0};
    std::vector<std::complex<double>> bins_;  ///< of the record under one Hann window
};

}  // namespace cvrig::analysis
