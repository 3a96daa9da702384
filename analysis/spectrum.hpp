#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"
#include "analysis/window.hpp"

/// What stands at each frequency of a record.
namespace cvrig::analysis {

/// How a line of the spectrum is stated: a sine of 1 V peak reads 1 (peak) or 0.7071 (rms).
enum class amplitude_scale { peak, rms };

struct amplitude_spectrum_reading {
    std::vector<double> volts;  ///< one for each bin from 0 Hz to half the rate
    hertz bin_width;
    double noise_bandwidth_bins{0.0};  ///< of the window, to turn bins into a noise density
    std::size_t samples_used{0};

    [[nodiscard]] hertz frequency_of(std::size_t bin) const noexcept {
        return bin_width * static_cast<double>(bin);
    }
};

/// Single-sided amplitude spectrum of the longest leading part whose length transforms fast.
///
/// Definition: 2 |X_k| / sum(w) (peak; without the 2 at 0 Hz and at half the rate), X the transform
///             of the windowed record; rms divides the doubled bins by sqrt 2. A line that falls
///             between bins reads low by up to the window's scalloping loss.
/// Source:     G. Heinzel, A. Ruediger, R. Schilling, 2002, section 9 (amplitude spectrum).
/// Input:      volts, 16 or more samples. Less than 5 % of the samples at the end stay unused from
///             1000 on (14 % from 16 on); none at 1 s of 44.1, 48 or 96 kHz.
/// Error:      1e-12 of the largest line, for lines on a bin.
/// Refuses:    too_short, not_finite, bad_argument (rate not above 0).
[[nodiscard]] outcome<amplitude_spectrum_reading> amplitude_spectrum(
    std::span<const double> samples_volts, sample_rate rate, window_kind window,
    amplitude_scale scale = amplitude_scale::peak);

}  // namespace cvrig::analysis
