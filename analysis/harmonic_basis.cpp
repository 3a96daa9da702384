#include "analysis/harmonic_basis.hpp"

#include <utility>

namespace cvrig::analysis {
namespace {

using complex = std::complex<double>;
using const_map = Eigen::Map<const Eigen::ArrayXd>;

const_map as_array(const std::vector<double>& values) {
    return {values.data(), static_cast<Eigen::Index>(values.size())};
}

Eigen::ArrayXcd as_lines(const exponential_comb::parts& parts) {
    Eigen::ArrayXcd lines(static_cast<Eigen::Index>(parts.re.size()));
    lines.real() = as_array(parts.re);
    lines.imag() = as_array(parts.im);
    return lines;
}

complex element(const exponential_comb::parts& parts, std::size_t at) {
    return {parts.re[at], parts.im[at]};
}

/// Sum of c times the comb.
complex projected(const Eigen::ArrayXd& re, const Eigen::ArrayXd& im,
                  const exponential_comb::parts& parts) {
    const auto p = as_array(parts.re);
    const auto q = as_array(parts.im);
    return {(re * p - im * q).sum(), (re * q + im * p).sum()};
}

/// Lines 0, 1, ... of the function of which a column's harmonics are half the conjugates.
Eigen::ArrayXcd half_conjugates(const Eigen::ArrayXcd& harmonics) {
    Eigen::ArrayXcd lines(harmonics.size() + 1);
    lines(0) = 0.0;
    lines.tail(harmonics.size()) = 0.5 * harmonics.conjugate();
    return lines;
}

}  // namespace

harmonic_basis::harmonic_basis(const record_grid& grid, const line_frequencies& lines)
    : harmonic_basis{grid, lines, cycle_fourier{lines.harmonics}} {}

harmonic_basis::harmonic_basis(const record_grid& grid, const line_frequencies& lines,
                               cycle_fourier fourier)
    : grid_{grid},
      lines_{lines},
      fourier_{std::move(fourier)},
      comb_{grid, -2.0 * lines.decay, 0.0, lines.pitch, 2 * lines.harmonics + 1} {
    for (const std::size_t order : {0U, 2U})
        fourier_.to_cycle(as_lines(comb_.order[order]), as_lines(comb_.order[order + 1]),
                          weight_[order], weight_[order + 1]);
    add_foreign_lines();
}

void harmonic_basis::add_foreign_lines() {
    for (std::size_t line = plus_.size(); line < lines_.used_foreign(); ++line) {
        const double away = lines_.foreign(line).imag();
        plus_.emplace_back(grid_, -lines_.decay, lines_.pitch + away, lines_.pitch,
                           lines_.harmonics);
        minus_.emplace_back(grid_, -lines_.decay, lines_.pitch - away, lines_.pitch,
                            line == 0 ? 0 : lines_.harmonics);
    }
    while (foreign_.size() + 1 < 2 * lines_.used_foreign())
        foreign_.push_back(exponential_sums(grid_, lines_.foreign(foreign_.size())));
}

harmonic_basis harmonic_basis::with_mains(double mains) const {
    harmonic_basis out = *this;
    out.lines_.mains = mains;
    out.add_foreign_lines();
    return out;
}

std::array<model_column, 2> harmonic_basis::columns(line_values a, line_values b) const {
    std::array<model_column, 2> out{model_column{std::move(a), {}}, model_column{std::move(b), {}}};
    fourier_.to_cycle(half_conjugates(out[0].values.harmonics),
                      half_conjugates(out[1].values.harmonics), out[0].cycle, out[1].cycle);
    return out;
}

std::array<line_values, 2> harmonic_basis::correlate(const model_column& a, std::size_t order_a,
                                                     const model_column& b,
                                                     std::size_t order_b) const {
    const auto count = static_cast<Eigen::Index>(lines_.harmonics);
    Eigen::ArrayXcd with_a;
    Eigen::ArrayXcd with_b;
    fourier_.to_lines(weight_[order_a] * a.cycle, weight_[order_b] * b.cycle, count + 1, with_a,
                      with_b);
    std::array<line_values, 2> out;
    out[0].harmonics = with_a.tail(count);
    out[1].harmonics = with_b.tail(count);
    add_foreign(a.values.foreign, order_a, out[0].harmonics);
    add_foreign(b.values.foreign, order_b, out[1].harmonics);
    out[0].foreign = foreign_of_correlation(a.values, order_a);
    out[1].foreign = foreign_of_correlation(b.values, order_b);
    return out;
}

line_values harmonic_basis::correlate_foreign(const std::array<complex, foreign_lines>& c,
                                              std::size_t order) const {
    const auto count = static_cast<Eigen::Index>(lines_.harmonics);
    line_values out{c, Eigen::ArrayXcd::Zero(count)};
    out.foreign = foreign_of_correlation(out, order);
    add_foreign(c, order, out.harmonics);
    return out;
}

std::array<complex, foreign_lines> harmonic_basis::foreign_of_correlation(const line_values& c,
                                                                          std::size_t order) const {
    const Eigen::ArrayXd re = c.harmonics.real();
    const Eigen::ArrayXd im = c.harmonics.imag();
    std::array<complex, foreign_lines> out{};
    for (std::size_t a = 0; a < lines_.used_foreign(); ++a) {
        out[a] = 0.5 * (projected(re, im, plus_[a].order[order]) +
                        std::conj(projected(re, im, minus(a).order[order])));
        for (std::size_t b = 0; b < lines_.used_foreign(); ++b)
            out[a] += 0.5 * (c.foreign[b] * foreign_sum(a, b, order) +
                             std::conj(c.foreign[b]) * foreign_difference(a, b, order));
    }
    return out;
}

void harmonic_basis::add_foreign(const std::array<complex, foreign_lines>& c, std::size_t order,
                                 Eigen::ArrayXcd& harmonics) const {
    for (std::size_t a = 0; a < lines_.used_foreign(); ++a) {
        const complex f = 0.5 * c[a];
        if (f == 0.0) continue;
        const auto& up = plus_[a].order[order];
        const auto& down = minus(a).order[order];
        harmonics.real() += f.real() * (as_array(up.re) + as_array(down.re)) -
                            f.imag() * (as_array(up.im) - as_array(down.im));
        harmonics.imag() += f.real() * (as_array(up.im) + as_array(down.im)) +
                            f.imag() * (as_array(up.re) - as_array(down.re));
    }
}

double harmonic_basis::inner(const model_column& a, const model_column& b,
                             std::size_t order) const {
    return (weight_[order] * a.cycle * b.cycle).mean();
}

complex harmonic_basis::sum_product(std::size_t a, std::size_t b) const {
    return element(comb_.order[0], a + b + 2);
}

complex harmonic_basis::difference_product(std::size_t a, std::size_t b) const {
    return a >= b ? element(comb_.order[0], a - b) : std::conj(element(comb_.order[0], b - a));
}

complex harmonic_basis::cross_sum(std::size_t a, std::size_t b) const {
    return element(plus_[a].order[0], b);
}

complex harmonic_basis::cross_difference(std::size_t a, std::size_t b) const {
    return std::conj(element(minus(a).order[0], b));
}

complex harmonic_basis::foreign_sum(std::size_t a, std::size_t b, std::size_t order) const {
    return foreign_[a + b][order];
}

complex harmonic_basis::foreign_difference(std::size_t a, std::size_t b, std::size_t order) const {
    return a >= b ? foreign_[a - b][order] : std::conj(foreign_[b - a][order]);
}

}  // namespace cvrig::analysis
