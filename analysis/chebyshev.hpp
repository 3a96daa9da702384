#pragma once

#include <cstddef>
#include <span>

/// Chebyshev polynomials: least squares with them stay well conditioned.
namespace cvrig::analysis {

/// T_0(x), T_1(x), ... into all of `out`.
///
/// Definition: T_0 = 1, T_1 = x, T_k = 2 x T_(k-1) - T_(k-2).
/// Source:     standard mathematics.
/// Input:      x from -1 to 1.
inline void chebyshev(double x, std::span<double> out) noexcept {
    for (std::size_t k = 0; k < out.size(); ++k)
        out[k] = k == 0 ? 1.0 : k == 1 ? x : 2.0 * x * out[k - 1] - out[k - 2];
}

/// -1 at the first of a number of values, 1 at the last.
[[nodiscard]] inline double chebyshev_place(double value_index, double values) noexcept {
    return 2.0 * value_index / (values - 1.0) - 1.0;
}

}  // namespace cvrig::analysis
