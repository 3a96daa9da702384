#pragma once

#include <Eigen/Dense>
#include <cstddef>
#include <memory>

namespace cvrig::analysis {

/// Fourier series of real functions on one cycle, two functions at a time.
///
/// Definition: f(x) = sum over k of c_k exp(i k x), with c_-k the conjugate of c_k, sampled at
///             `points()` equal steps of x: enough that no alias reaches the lines up to
///             `highest_line` of a product f g, or the mean of f g h, where f has twice as many
///             lines, and g and h have that many.
/// Source:     two real transforms from a complex one, standard mathematics.
/// Error:      1e-13 of the largest value for 1200 points (tests/analysis/harmonic_basis_test.cpp).
class cycle_fourier {
public:
    using lines = Eigen::ArrayXcd;    // element k: c_k, from 0
    using function = Eigen::ArrayXd;  // element j: value at x = 2 pi j / points()

    explicit cycle_fourier(std::size_t highest_line);

    [[nodiscard]] Eigen::Index points() const noexcept { return points_; }

    /// The two real functions with lines `a` and `b`, of equal number.
    void to_cycle(const lines& a, const lines& b, function& at_a, function& at_b) const;
    /// Lines 0 ... `count` - 1 of two real functions.
    void to_lines(const function& at_a, const function& at_b, Eigen::Index count, lines& a,
                  lines& b) const;

private:
    struct plan;

    Eigen::Index points_;
    std::shared_ptr<const plan> plan_;  // never changes, so that copies may share it
};

}  // namespace cvrig::analysis
