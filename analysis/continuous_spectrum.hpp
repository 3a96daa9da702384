#pragma once

#include <array>
#include <complex>
#include <span>
#include <vector>

#include "analysis/exponential_sums.hpp"

namespace cvrig::analysis {

/// The Fourier (Laplace) transform of a record at any frequency and decay, from a single FFT.
///
/// Definition: element p of `at(s)` is the sum over the grid of y u^p exp(s u), p = 0...3.
/// Source:     A. Dutt, V. Rokhlin 1993, "Fast Fourier transforms for nonequispaced data";
///             L. Greengard, J.-Y. Lee 2004, "Accelerating the nonuniform fast Fourier transform":
///             the record is multiplied by a growing Gaussian, padded to twice its length and
///             transformed; a falling Gaussian over the bins then undoes the first one exactly.
/// Input:      15 samples or more; |Re s| up to 2; |Im s| up to Nyquist (pi / 2 * samples).
/// Error:      below 1e-11 of the sum of |y| at Re s = 0, 1e-8 at |Re s| = 2
///             (tests/analysis/exponential_sums_test.cpp).
class continuous_spectrum {
public:
    explicit continuous_spectrum(std::span<const double> samples);

    [[nodiscard]] std::array<std::complex<double>, 4> at(std::complex<double> s) const;
    /// Elements 0 and 1 of `at(s)`, in half the time.
    [[nodiscard]] std::array<std::complex<double>, 2> low_moments(std::complex<double> s) const;

    /// Power of the record under a bell-shaped window at bin j, of `bins_per_cycle` bins for one
    /// cycle in the record, up to Nyquist. For the coarse search: the window has no far side lobes.
    [[nodiscard]] std::vector<double> windowed_power() const;
    [[nodiscard]] double bins_per_cycle() const noexcept;
    [[nodiscard]] const record_grid& grid() const noexcept { return grid_; }

private:
    // Bins under the falling Gaussian, rounded up to a whole number of processor registers.
    static constexpr std::size_t span_bins = 32;
    using span_values = std::array<double, span_bins>;

    template <std::size_t Orders>
    [[nodiscard]] std::array<std::complex<double>, Orders> moments(std::complex<double> s) const;
    template <std::size_t Orders>
    [[nodiscard]] std::array<std::complex<double>, Orders> weighted_sums(
        const double* re, const double* im, std::complex<double> first,
        std::complex<double> ratio) const;

    record_grid grid_;
    std::size_t fft_size_{0};
    std::vector<double> re_, im_;           // bins from -margin to Nyquist + margin
    std::array<span_values, 4> falling_{};  // the Gaussian times powers of the distance in time
};

}  // namespace cvrig::analysis
