#pragma once

#include <Eigen/Dense>
#include <array>
#include <complex>
#include <cstddef>

#include "analysis/exponential_sums.hpp"

namespace cvrig::analysis {

/// Lines that are no part of the tone: offset (line 0, frequency 0) and hum at 1, 2, 3 x mains.
inline constexpr std::size_t foreign_lines = 4;

/// One complex number for each foreign line and each harmonic 1, 2, ... of the tone.
struct line_values {
    std::array<std::complex<double>, foreign_lines> foreign{};
    Eigen::ArrayXcd harmonics;
};

/// Frequencies and decay of all lines, per unit of grid time.
struct line_frequencies {
    double pitch{0};  ///< radians per unit of time
    double decay{0};  ///< nepers per unit of time, of the harmonics only
    double mains{0};  ///< radians per unit of time; 0 for no hum
    std::size_t harmonics{1};

    [[nodiscard]] std::complex<double> foreign(std::size_t line) const {
        return {0.0, mains * static_cast<double>(line)};
    }
    /// `index` counts from 0: the fundamental.
    [[nodiscard]] std::complex<double> harmonic(std::size_t index) const {
        return {-decay, pitch * static_cast<double>(index + 1)};
    }
    [[nodiscard]] std::size_t used_foreign() const { return mains > 0.0 ? foreign_lines : 1; }
};

/// All inner products between lines, in closed form: no sum over samples is ever made.
///
/// With s_a the complex frequency of line a, a column of the model is Re(sum c_a u^q exp(s_a u)).
class harmonic_basis {
public:
    harmonic_basis(const record_grid& grid, const line_frequencies& lines);

    /// Element a: the sum over the grid of u^order exp(s_a u) Re(sum over b of c_b exp(s_b u)).
    [[nodiscard]] line_values correlate(const line_values& c, std::size_t order) const;

    /// Inner products of harmonics a and b (from 0): sum of exp((s_a + s_b) u), exp((s_a + s_b*)
    /// u).
    [[nodiscard]] std::complex<double> sum_product(std::size_t a, std::size_t b) const;
    [[nodiscard]] std::complex<double> difference_product(std::size_t a, std::size_t b) const;

    /// The same for foreign line a and harmonic b, and for two foreign lines.
    [[nodiscard]] std::complex<double> cross_sum(std::size_t a, std::size_t b) const;
    [[nodiscard]] std::complex<double> cross_difference(std::size_t a, std::size_t b) const;

    [[nodiscard]] const line_frequencies& lines() const noexcept { return lines_; }
    [[nodiscard]] const record_grid& grid() const noexcept { return grid_; }

private:
    static constexpr std::size_t orders = 4;
    struct parts {
        Eigen::ArrayXd re, im;
    };
    void correlate_harmonics(const line_values& c, std::size_t order, line_values& out) const;
    void correlate_foreign(const line_values& c, std::size_t order, line_values& out) const;

    record_grid grid_;
    line_frequencies lines_;
    // Element n + harmonics: sum of u^order exp((-2 decay + i n pitch) u), n = -harmonics ... 2
    // harmonics.
    std::array<parts, orders> comb_;
    // Element [order][line](k): with exp((s_k + s_line) u) and exp((s_k + s_line*) u).
    std::array<std::array<Eigen::ArrayXcd, foreign_lines>, orders> plus_, minus_;
};

}  // namespace cvrig::analysis
