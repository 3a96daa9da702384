#pragma once

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

/// The fast Fourier transform as analysis uses it; keeps the library's header out of the others.
namespace cvrig::analysis {

using complex_volts = std::complex<double>;

/// Largest even length up to n with no prime factor above 7, for which the transform is fast (a
/// long prime length takes minutes). Below n by less than 14 % from 16 on and less than 5 % from
/// 1000 on; 0 for n < 2.
[[nodiscard]] std::size_t fast_length_at_most(std::size_t n) noexcept;

/// Smallest such length from n on.
[[nodiscard]] std::size_t fast_length_at_least(std::size_t n) noexcept;

/// Smallest length from n (at least 1) on, odd ones too, with no prime factor above 5: lengths of
/// complex transforms.
[[nodiscard]] std::size_t smooth_length_at_least(std::size_t n) noexcept;

/// Unscaled forward transform of an even number of real samples: bins 0 to n / 2.
[[nodiscard]] std::vector<complex_volts> real_transform(std::span<const double> samples);

/// Unscaled transform: sum over n of x[n] exp(-+ 2 pi i k n / N); `inverse` has the plus sign.
[[nodiscard]] std::vector<complex_volts> transform(std::span<const complex_volts> x,
                                                   bool inverse = false);

}  // namespace cvrig::analysis
