#pragma once

#include <array>
#include <complex>
#include <cstddef>
#include <vector>

namespace cvrig::analysis {

/// The grid of a record, with time u running from just above -1 to just below 1 about the middle:
/// u = (2 j + 1) / samples - 1 for j = 0 ... samples - 1. Frequencies are in radians per unit of u,
/// decays in nepers per unit of u, so that all moments are of comparable size.
struct record_grid {
    std::size_t samples{1};

    [[nodiscard]] double step() const noexcept { return 2.0 / static_cast<double>(samples); }
};

/// Moments of a sampled exponential, in closed form.
///
/// Definition: element p is the sum over the grid of u^p exp(s u), p = 0...3.
/// Source:     geometric sum, sinh(s) / sinh(s / samples), and its derivatives.
/// Input:      |Re s| below 100; |Im s| below pi * samples (twice Nyquist), exclusive.
/// Error:      below 1e-11 of the sum of u^p exp(Re(s) u)
///             (tests/analysis/exponential_sums_test.cpp).
[[nodiscard]] std::array<std::complex<double>, 4> exponential_sums(const record_grid& grid,
                                                                   std::complex<double> s);

/// Moments of many exponentials whose frequencies are evenly spaced.
///
/// Definition: element k of order p is exponential_sums(grid, {decay, first + k spacing})[p], k =
///             0...count - 1.
/// Source:     as exponential_sums, the sines raised from line to line by the angle-sum formula.
/// Input:      as exponential_sums, for every line.
/// Error:      below 1e-11 of the sum of exp(Re(s) u) for up to 2000 lines
///             (tests/analysis/exponential_sums_test.cpp).
struct exponential_comb {
    exponential_comb(const record_grid& grid, double decay, double first, double spacing,
                     std::size_t count);

    struct parts {
        std::vector<double> re, im;
    };
    std::array<parts, 4> order;
};

}  // namespace cvrig::analysis
