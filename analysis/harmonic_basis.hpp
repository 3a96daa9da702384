#pragma once

#include <Eigen/Dense>
#include <array>
#include <complex>
#include <cstddef>
#include <vector>

#include "analysis/cycle_fourier.hpp"
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

/// A column of the model, Re(sum c_a exp(s_a u)), and what its harmonics look like.
struct model_column {
    line_values values;
    Eigen::ArrayXd cycle;  ///< the harmonics over one cycle, backward in time; half their size
};

/// All inner products between lines, in closed form: no sum over samples is ever made.
///
/// Definition: with s_a the complex frequency of line a, the products that a column asks for are
///             half the sum over b of c_b T(a + b) and c_b* T(a - b), where T(n) is the sum over
///             the grid of u^order exp((-2 decay + i n pitch) u): convolutions, done as products on
///             one cycle.
/// Error:      below 1e-12 of samples * exp(2 |decay|) * amplitude
///             (tests/analysis/harmonic_basis_test.cpp).
class harmonic_basis {
public:
    harmonic_basis(const record_grid& grid, const line_frequencies& lines);
    /// With the transform of another basis of as many harmonics.
    harmonic_basis(const record_grid& grid, const line_frequencies& lines, cycle_fourier fourier);

    /// The same with hum lines, of which it had none; what it knows of the harmonics is kept.
    [[nodiscard]] harmonic_basis with_mains(double mains) const;

    /// Two columns at once; the frequencies play no part in this.
    [[nodiscard]] std::array<model_column, 2> columns(line_values a, line_values b) const;

    /// Element a: the sum over the grid of u^order exp(s_a u) times the column. Two columns, or one
    /// in two orders, for the price of one.
    [[nodiscard]] std::array<line_values, 2> correlate(const model_column& a, std::size_t order_a,
                                                       const model_column& b,
                                                       std::size_t order_b) const;
    /// The foreign lines of such a correlation, for which no cycle is needed.
    [[nodiscard]] std::array<std::complex<double>, foreign_lines> foreign_of_correlation(
        const line_values& c, std::size_t order) const;
    /// Such a correlation of a column that has foreign lines only.
    [[nodiscard]] line_values correlate_foreign(
        const std::array<std::complex<double>, foreign_lines>& c, std::size_t order) const;

    /// Sum over the grid of u^order times the harmonics of both columns.
    [[nodiscard]] double inner(const model_column& a, const model_column& b,
                               std::size_t order) const;

    /// Inner products of harmonics a and b (from 0): sum of exp((s_a + s_b) u), exp((s_a + s_b*)
    /// u).
    [[nodiscard]] std::complex<double> sum_product(std::size_t a, std::size_t b) const;
    [[nodiscard]] std::complex<double> difference_product(std::size_t a, std::size_t b) const;

    /// The same for foreign line a and harmonic b.
    [[nodiscard]] std::complex<double> cross_sum(std::size_t a, std::size_t b) const;
    [[nodiscard]] std::complex<double> cross_difference(std::size_t a, std::size_t b) const;

    /// The same for foreign lines a and b, of any order.
    [[nodiscard]] std::complex<double> foreign_sum(std::size_t a, std::size_t b,
                                                   std::size_t order = 0) const;
    [[nodiscard]] std::complex<double> foreign_difference(std::size_t a, std::size_t b,
                                                          std::size_t order = 0) const;

    [[nodiscard]] const line_frequencies& lines() const noexcept { return lines_; }
    [[nodiscard]] const record_grid& grid() const noexcept { return grid_; }
    [[nodiscard]] const cycle_fourier& fourier() const noexcept { return fourier_; }

private:
    void add_foreign_lines();
    /// Adds what foreign lines bring to the harmonics of a correlation.
    void add_foreign(const std::array<std::complex<double>, foreign_lines>& c, std::size_t order,
                     Eigen::ArrayXcd& harmonics) const;
    [[nodiscard]] const exponential_comb& minus(std::size_t line) const {
        return line == 0 ? plus_[0] : minus_[line];
    }

    record_grid grid_;
    line_frequencies lines_;
    cycle_fourier fourier_;
    exponential_comb comb_;                       // T(n), n = 0 ... 2 harmonics
    std::array<Eigen::ArrayXd, 4> weight_;        // T of each order, as functions of the phase
    std::vector<exponential_comb> plus_, minus_;  // of each foreign line: exp((s_k +- s_line) u)
    std::vector<std::array<std::complex<double>, 4>> foreign_;  // element m: of exp(i m mains u)
};

}  // namespace cvrig::analysis
