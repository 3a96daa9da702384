#pragma once

#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

#include "analysis/outcome.hpp"
#include "analysis/units.hpp"

/// Window functions for spectra: sums of cosines, in the periodic form that a transform wants.
namespace cvrig::analysis {

/// Which window. The usual trade: `hann` for a quick look, `blackman_harris` for weak lines beside
/// strong ones, a flat top (`hft...`) for the level of a line at an unknown place within its bin.
enum class window_kind {
    rectangular,
    hann,
    hamming,          ///< 0.54 / 0.46
    blackman,         ///< 0.42 / 0.50 / 0.08
    blackman_harris,  ///< minimum 4-term (Harris 1978)
    nuttall,          ///< minimum 4-term with continuous first derivative, "Nuttall 4c"
    hft70,            ///< flat top, side lobes below -70 dB (Heinzel 2002), as the next three
    hft95,
    hft116d,
    hft144d,
};

[[nodiscard]] std::string_view name_of(window_kind kind) noexcept;

/// Coefficients a_0, a_1, ... of the window as published.
///
/// Definition: w[n] = sum over k of (-1)^k a_k cos(2 pi k n / N).
/// Source:     F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier
///             transform", Proc. IEEE 66(1), 1978; A. H. Nuttall, "Some windows with very good
///             sidelobe behavior", IEEE Trans. ASSP 29(1), 1981; G. Heinzel, A. Ruediger,
///             R. Schilling, "Spectrum and spectral density estimation by the DFT", 2002.
[[nodiscard]] std::span<const double> cosine_coefficients(window_kind kind) noexcept;

/// The window's n weights, its largest value scaled to 1.
///
/// Definition: periodic ("DFT-even") form: the weight after the last would equal the first.
/// Input:      any n; 0 gives no weights. Figures of merit are exact from n above twice the number
///             of coefficients.
[[nodiscard]] std::vector<double> make_window(window_kind kind, std::size_t n);

/// Mean of the weights: what the window leaves of a line's amplitude.
///
/// Source:     Harris 1978, section IV-B and Table I.
/// Refuses:    too_short (no weights).
[[nodiscard]] outcome<double> coherent_gain(std::span<const double> weights);

/// Equivalent noise bandwidth, in bins.
///
/// Definition: N * sum(w^2) / (sum w)^2.
/// Source:     Harris 1978, section IV-A and Table I.
/// Refuses:    too_short (no weights), silent (sum is 0).
[[nodiscard]] outcome<double> noise_bandwidth_bins(std::span<const double> weights);

/// Loss of a line's amplitude half-way between two bins; below 0 if it gains there.
///
/// Source:     Harris 1978, section IV-C and Table I.
/// Refuses:    too_short (no weights), silent (sum is 0).
[[nodiscard]] outcome<decibels> scalloping_loss(std::span<const double> weights);

}  // namespace cvrig::analysis
