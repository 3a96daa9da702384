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

using foreign_values = std::array<complex, foreign_lines>;

/// Derivative with respect to the mains frequency, over u.
foreign_values mains_column(const foreign_values& a) {
    foreign_values c{};
    for (std::size_t m = 1; m < foreign_lines; ++m)
        c[m] = a[m] * complex{0.0, static_cast<double>(m)};
    return c;
}

double inner(const foreign_values& c, const foreign_values& correlation) {
    double sum = 0.0;
    for (std::size_t m = 0; m < foreign_lines; ++m) sum += (c[m] * correlation[m]).real();
    return sum;
}

/// The decay moves the harmonics only; its column is the negative of this.
model_column without_foreign(const model_column& tone) {
    return {{{}, tone.values.harmonics}, tone.cycle};
}

}  // namespace

tone_columns columns_of(const harmonic_basis& basis, const line_values& amplitudes) {
    line_values turned;
    const Eigen::Index count = amplitudes.harmonics.size();
    const Eigen::ArrayXd order = Eigen::ArrayXd::LinSpaced(count, 1.0, static_cast<double>(count));
    turned.harmonics.resize(count);
    turned.harmonics.real() = -order * amplitudes.harmonics.imag();
    turned.harmonics.imag() = order * amplitudes.harmonics.real();
    auto [tone, pitch] = basis.columns(amplitudes, std::move(turned));
    return {std::move(tone), std::move(pitch)};
}

Eigen::Index tone_hessian::place(std::size_t foreign) const {
    return foreign == 0 ? offset_row : first_line_row + 2 * static_cast<Eigen::Index>(foreign - 1);
}

Eigen::Index tone_hessian::place_of_harmonic(std::size_t index) const {
    return first_line_row + 2 * static_cast<Eigen::Index>(foreign_ - 1 + index);
}

tone_hessian::tone_hessian(const harmonic_basis& basis, const tone_columns& columns,
                           const tone_priors& priors, std::size_t dense_harmonics)
    : foreign_{basis.lines().used_foreign()},
      dense_{std::min(dense_harmonics, basis.lines().harmonics)},
      harmonics_{basis.lines().harmonics} {
    core_.setZero(place_of_harmonic(dense_), place_of_harmonic(dense_));
    tail_.resize(harmonics_ - dense_);
    fill_amplitudes(basis);
    fill_nonlinear(basis, columns);
    if (foreign_ > 1) fill_mains(basis, columns);
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
    for (std::size_t a = 0; a < foreign_; ++a)
        for (std::size_t b = 0; b < foreign_; ++b) {
            const Eigen::Matrix2d m =
                block(basis.foreign_sum(a, b), basis.foreign_difference(a, b));
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

void tone_hessian::fill_coupling(Eigen::Index row, const line_values& correlation) {
    for (std::size_t a = 0; a < foreign_; ++a) {
        const Eigen::Index rows = a == 0 ? 1 : 2;
        core_.block(place(a), row, rows, 1) = slopes(correlation.foreign[a]).head(rows);
        core_.block(row, place(a), 1, rows) = slopes(correlation.foreign[a]).head(rows).transpose();
    }
    for (std::size_t k = 0; k < harmonics_; ++k) {
        const Eigen::Vector2d s = slopes(correlation.harmonics(static_cast<Eigen::Index>(k)));
        if (k < dense_) {
            core_.block<2, 1>(place_of_harmonic(k), row) = s;
            core_.block<1, 2>(row, place_of_harmonic(k)) = s.transpose();
        } else if (row != mains_row) {
            tail_[k - dense_].coupling.col(row) = s;
        }
    }
}

void tone_hessian::fill_nonlinear(const harmonic_basis& basis, const tone_columns& columns) {
    const auto& pitch = columns.pitch;
    const model_column tone = without_foreign(columns.tone);
    core_(pitch_row, pitch_row) = basis.inner(pitch, pitch, 2);
    core_(decay_row, decay_row) = basis.inner(tone, tone, 2);
    core_(pitch_row, decay_row) = core_(decay_row, pitch_row) = -basis.inner(pitch, tone, 2);
    auto [with_pitch, with_tone] = basis.correlate(pitch, 1, tone, 1);
    fill_coupling(pitch_row, with_pitch);
    with_tone.harmonics = -with_tone.harmonics;
    for (complex& value : with_tone.foreign) value = -value;
    fill_coupling(decay_row, with_tone);
}

void tone_hessian::fill_mains(const harmonic_basis& basis, const tone_columns& columns) {
    const foreign_values mains = mains_column(columns.tone.values.foreign);
    const line_values tone{{}, columns.tone.values.harmonics};
    core_(mains_row, mains_row) = inner(mains, basis.correlate_foreign(mains, 2).foreign);
    core_(mains_row, pitch_row) = core_(pitch_row, mains_row) =
        inner(mains, basis.foreign_of_correlation(columns.pitch.values, 2));
    core_(mains_row, decay_row) = core_(decay_row, mains_row) =
        -inner(mains, basis.foreign_of_correlation(tone, 2));
    fill_coupling(mains_row, basis.correlate_foreign(mains, 1));
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
