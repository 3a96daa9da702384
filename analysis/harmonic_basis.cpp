#include "analysis/harmonic_basis.hpp"

namespace cvrig::analysis {

using complex = std::complex<double>;

harmonic_basis::harmonic_basis(const record_grid& grid, const line_frequencies& lines)
    : grid_{grid}, lines_{lines} {
    const auto count = static_cast<Eigen::Index>(lines.harmonics);
    for (auto& table : comb_) {
        table.re.resize(3 * count + 1);
        table.im.resize(3 * count + 1);
    }
    for (Eigen::Index n = 0; n <= 2 * count; ++n) {
        const auto sums =
            exponential_sums(grid, {-2.0 * lines.decay, static_cast<double>(n) * lines.pitch});
        for (std::size_t order = 0; order < orders; ++order) {
            comb_[order].re(count + n) = sums[order].real();
            comb_[order].im(count + n) = sums[order].imag();
            if (n > count) continue;
            comb_[order].re(count - n) = sums[order].real();
            comb_[order].im(count - n) = -sums[order].imag();
        }
    }
    for (std::size_t line = 0; line < lines.used_foreign(); ++line) {
        for (std::size_t order = 0; order < orders; ++order) {
            plus_[order][line].resize(count);
            minus_[order][line].resize(count);
        }
        for (Eigen::Index k = 0; k < count; ++k) {
            const complex s = lines.harmonic(static_cast<std::size_t>(k));
            const auto up = exponential_sums(grid, s + lines.foreign(line));
            const auto down = line == 0 ? up : exponential_sums(grid, s - lines.foreign(line));
            for (std::size_t order = 0; order < orders; ++order) {
                plus_[order][line](k) = up[order];
                minus_[order][line](k) = down[order];
            }
        }
    }
}

line_values harmonic_basis::correlate(const line_values& c, std::size_t order) const {
    line_values out;
    out.harmonics.resize(static_cast<Eigen::Index>(lines_.harmonics));
    correlate_harmonics(c, order, out);
    correlate_foreign(c, order, out);
    return out;
}

void harmonic_basis::correlate_harmonics(const line_values& c, std::size_t order,
                                         line_values& out) const {
    // Real and imaginary parts apart, so that the sums over b vectorise.
    const auto count = static_cast<Eigen::Index>(lines_.harmonics);
    const Eigen::ArrayXd re = c.harmonics.real();
    const Eigen::ArrayXd im = c.harmonics.imag();
    const parts& table = comb_[order];
    for (Eigen::Index k = 0; k < count; ++k) {
        const Eigen::Index up = count + k + 2;  // n = (k + 1) + (l + 1), from l = 0
        const Eigen::Index down = count - k;    // n = l - k
        const auto sum_re = table.re.segment(up, count);
        const auto sum_im = table.im.segment(up, count);
        const auto dif_re = table.re.segment(down, count);
        const auto dif_im = table.im.segment(down, count);
        out.harmonics(k) = {0.5 * (re * (sum_re + dif_re) - im * (sum_im + dif_im)).sum(),
                            0.5 * (re * (sum_im - dif_im) + im * (sum_re - dif_re)).sum()};
    }
}

void harmonic_basis::correlate_foreign(const line_values& c, std::size_t order,
                                       line_values& out) const {
    for (std::size_t a = 0; a < lines_.used_foreign(); ++a) {
        const auto& plus = plus_[order][a];
        const auto& minus = minus_[order][a];
        out.harmonics += 0.5 * (c.foreign[a] * plus + std::conj(c.foreign[a]) * minus);
        out.foreign[a] =
            0.5 * ((c.harmonics * plus).sum() + (c.harmonics * minus).conjugate().sum());
        for (std::size_t b = 0; b < lines_.used_foreign(); ++b) {
            const complex s = lines_.foreign(a);
            const complex t = lines_.foreign(b);
            out.foreign[a] +=
                0.5 * (c.foreign[b] * exponential_sums(grid_, s + t)[order] +
                       std::conj(c.foreign[b]) * exponential_sums(grid_, s - t)[order]);
        }
    }
}

complex harmonic_basis::sum_product(std::size_t a, std::size_t b) const {
    const auto at = static_cast<Eigen::Index>(lines_.harmonics + a + b + 2);
    return {comb_[0].re(at), comb_[0].im(at)};
}

complex harmonic_basis::difference_product(std::size_t a, std::size_t b) const {
    const auto at = static_cast<Eigen::Index>(lines_.harmonics + a - b);
    return {comb_[0].re(at), comb_[0].im(at)};
}

complex harmonic_basis::cross_sum(std::size_t a, std::size_t b) const {
    return plus_[0][a](static_cast<Eigen::Index>(b));
}

complex harmonic_basis::cross_difference(std::size_t a, std::size_t b) const {
    return std::conj(minus_[0][a](static_cast<Eigen::Index>(b)));
}

}  // namespace cvrig::analysis
