#include "analysis/tone_hessian.hpp"

namespace cvrig::analysis {
namespace {

using complex = std::complex<double>;

// Rows of the dense part: pitch, decay, mains, offset, then (Re, Im) of each line.
constexpr Eigen::Index pitch_row = 0;
constexpr Eigen::Index decay_row = 1;
constexpr Eigen::Index mains_row = 2;
constexpr Eigen::Index offset_row = 3;
constexpr Eigen::Index first_line_row = 4;

/// Inner products of (Re, Im) parts of two lines from their sum and difference products.
Eigen::Matrix2d block(complex sum, complex difference) {
    Eigen::Matrix2d m;
    m << sum.real() + difference.real(), -sum.imag() + difference.imag(),
        -sum.imag() - difference.imag(), difference.real() - sum.real();
    return 0.5 * m;
}

/// d/d Re and d/d Im of <column, Re(c exp(s u))> from the correlation of the column with exp(s u).
Eigen::Vector2d slopes(complex correlation) {
    return {correlation.real(), -correlation.imag()};
}

line_values pitch_column(const line_values& a) {
    line_values c;
    c.harmonics = a.harmonics;
    for (Eigen::Index k = 0; k < c.harmonics.size(); ++k)
        c.harmonics(k) *= complex{0.0, static_cast<double>(k + 1)};
    return c;
}

line_values decay_column(const line_values& a) {
    line_values c;
    c.harmonics = -a.harmonics;
    return c;
}

line_values mains_column(const line_values& a) {
    line_values c;
    c.harmonics = Eigen::ArrayXcd::Zero(a.harmonics.size());
    for (std::size_t m = 1; m < foreign_lines; ++m)
        c.foreign[m] = a.foreign[m] * complex{0.0, static_cast<double>(m)};
    return c;
}

double inner(const line_values& c, const line_values& correlation) {
    double sum = (c.harmonics * correlation.harmonics).sum().real();
    for (std::size_t m = 0; m < foreign_lines; ++m)
        sum += (c.foreign[m] * correlation.foreign[m]).real();
    return sum;
}

}  // namespace

Eigen::Index tone_hessian::place(std::size_t foreign) const {
    return foreign == 0 ? offset_row : first_line_row + 2 * static_cast<Eigen::Index>(foreign - 1);
}

Eigen::Index tone_hessian::place_of_harmonic(std::size_t index) const {
    return first_line_row + 2 * static_cast<Eigen::Index>(foreign_ - 1 + index);
}

tone_hessian::tone_hessian(const harmonic_basis& basis, const line_values& amplitudes,
                           const tone_priors& priors, std::size_t dense_harmonics)
    : foreign_{basis.lines().used_foreign()},
      dense_{std::min(dense_harmonics, basis.lines().harmonics)},
      harmonics_{basis.lines().harmonics} {
    core_.setZero(place_of_harmonic(dense_), place_of_harmonic(dense_));
    tail_.resize(harmonics_ - dense_);
    fill_amplitudes(basis);
    fill_nonlinear(basis, amplitudes);
    for (Eigen::Index row = first_line_row; row < place_of_harmonic(0); ++row)
        core_(row, row) += priors.hum_amplitude;
    core_(mains_row, mains_row) += priors.mains;
    core_(decay_row, decay_row) += priors.decay;
    fold_tail();
    // A parameter without effect yet (no amplitude, no hum) must not move.
    for (Eigen::Index row = 0; row < core_.rows(); ++row)
        if (core_(row, row) <= 0.0) core_(row, row) = 1.0;
    factor_.compute(core_);
}

void tone_hessian::fill_amplitudes(const harmonic_basis& basis) {
    const auto& lines = basis.lines();
    for (std::size_t a = 0; a < foreign_; ++a)
        for (std::size_t b = 0; b < foreign_; ++b) {
            const complex s = lines.foreign(a);
            const complex t = lines.foreign(b);
            const Eigen::Matrix2d m = block(exponential_sums(basis.grid(), s + t)[0],
                                            exponential_sums(basis.grid(), s - t)[0]);
            core_.block(place(a), place(b), a == 0 ? 1 : 2, b == 0 ? 1 : 2) =
                m.topLeftCorner(a == 0 ? 1 : 2, b == 0 ? 1 : 2);
        }
    for (std::size_t k = 0; k < dense_; ++k) {
        for (std::size_t a = 0; a < foreign_; ++a) {
            const Eigen::Index rows = a == 0 ? 1 : 2;
            const Eigen::Matrix2d m = block(basis.cross_sum(a, k), basis.cross_difference(a, k));
            core_.block(place(a), place_of_harmonic(k), rows, 2) = m.topRows(rows);
            core_.block(place_of_harmonic(k), place(a), 2, rows) = m.topRows(rows).transpose();
        }
        for (std::size_t l = 0; l < dense_; ++l)
            core_.block<2, 2>(place_of_harmonic(k), place_of_harmonic(l)) =
                block(basis.sum_product(k, l), basis.difference_product(k, l));
    }
    for (std::size_t k = dense_; k < harmonics_; ++k)
        tail_[k - dense_].inverse =
            block(basis.sum_product(k, k), basis.difference_product(k, k)).inverse();
}

void tone_hessian::fill_nonlinear(const harmonic_basis& basis, const line_values& amplitudes) {
    const std::array<line_values, 3> columns{pitch_column(amplitudes), decay_column(amplitudes),
                                             mains_column(amplitudes)};
    for (Eigen::Index row : {pitch_row, decay_row, mains_row}) {
        if (row == mains_row && foreign_ == 1) continue;
        const auto& column = columns[static_cast<std::size_t>(row)];
        const line_values with_lines = basis.correlate(column, 1);
        const line_values with_slopes = basis.correlate(column, 2);
        for (Eigen::Index other : {pitch_row, decay_row, mains_row})
            core_(other, row) = inner(columns[static_cast<std::size_t>(other)], with_slopes);
        for (std::size_t a = 0; a < foreign_; ++a) {
            const Eigen::Index rows = a == 0 ? 1 : 2;
            core_.block(place(a), row, rows, 1) = slopes(with_lines.foreign[a]).head(rows);
            core_.block(row, place(a), 1, rows) =
                slopes(with_lines.foreign[a]).head(rows).transpose();
        }
        for (std::size_t k = 0; k < harmonics_; ++k) {
            const Eigen::Vector2d s = slopes(with_lines.harmonics(static_cast<Eigen::Index>(k)));
            if (k < dense_) {
                core_.block<2, 1>(place_of_harmonic(k), row) = s;
                core_.block<1, 2>(row, place_of_harmonic(k)) = s.transpose();
            } else if (row != mains_row) {
                tail_[k - dense_].coupling.col(row) = s;
            }
        }
    }
}

void tone_hessian::fold_tail() {
    for (const auto& t : tail_)
        core_.topLeftCorner<2, 2>() -= t.coupling.transpose() * t.inverse * t.coupling;
}

tone_step tone_hessian::solve(const tone_step& gradient) const {
    Eigen::VectorXd right = Eigen::VectorXd::Zero(core_.rows());
    right(pitch_row) = gradient.pitch;
    right(decay_row) = gradient.decay;
    right(mains_row) = gradient.mains;
    right(offset_row) = gradient.amplitudes.foreign[0].real();
    const auto harmonic = [&](std::size_t k) {
        const complex g = gradient.amplitudes.harmonics(static_cast<Eigen::Index>(k));
        return Eigen::Vector2d{g.real(), g.imag()};
    };
    for (std::size_t a = 1; a < foreign_; ++a)
        right.segment<2>(place(a)) << gradient.amplitudes.foreign[a].real(),
            gradient.amplitudes.foreign[a].imag();
    for (std::size_t k = 0; k < dense_; ++k) right.segment<2>(place_of_harmonic(k)) = harmonic(k);
    for (std::size_t k = dense_; k < harmonics_; ++k) {
        const auto& t = tail_[k - dense_];
        right.head<2>() -= t.coupling.transpose() * (t.inverse * harmonic(k));
    }
    const Eigen::VectorXd x = factor_.solve(right);

    tone_step step;
    step.pitch = x(pitch_row);
    step.decay = x(decay_row);
    step.mains = x(mains_row);
    step.amplitudes.foreign[0] = x(offset_row);
    for (std::size_t a = 1; a < foreign_; ++a)
        step.amplitudes.foreign[a] = {x(place(a)), x(place(a) + 1)};
    step.amplitudes.harmonics.resize(static_cast<Eigen::Index>(harmonics_));
    for (std::size_t k = 0; k < harmonics_; ++k) {
        Eigen::Vector2d v;
        if (k < dense_) {
            v = x.segment<2>(place_of_harmonic(k));
        } else {
            const auto& t = tail_[k - dense_];
            v = t.inverse * (harmonic(k) - t.coupling * x.head<2>());
        }
        step.amplitudes.harmonics(static_cast<Eigen::Index>(k)) = {v(0), v(1)};
    }
    return step;
}

double tone_hessian::pitch_variance() const {
    return factor_.solve(Eigen::VectorXd::Unit(core_.rows(), pitch_row))(pitch_row);
}

}  // namespace cvrig::analysis
