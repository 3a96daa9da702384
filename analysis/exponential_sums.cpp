#include "analysis/exponential_sums.hpp"

#include <cmath>

namespace cvrig::analysis {
namespace {

using complex = std::complex<double>;
using moments = std::array<complex, 4>;

constexpr std::size_t series_terms = 28;
constexpr double series_radius =
    1.5;  // below it the closed form cancels, above it the series is slow

complex product(complex a, complex b) {
    return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

complex inverse(complex a) {
    const double norm = a.real() * a.real() + a.imag() * a.imag();
    return {a.real() / norm, -a.imag() / norm};
}

/// Sum of u^(2q) over the grid by Euler-Maclaurin: the mid-point rule over -1...1 is exact but for
/// terms of the step, of which three are enough from 15 samples up.
double even_moment(const record_grid& grid, std::size_t power) {
    const double h = grid.step();
    const double p = static_cast<double>(power);
    double sum = 2.0 / (p + 1.0);
    if (power >= 2) sum -= h * h / 12.0 * p;
    if (power >= 4) sum += 7.0 * std::pow(h, 4) / 2880.0 * p * (p - 1.0) * (p - 2.0);
    if (power >= 6)
        sum -= 31.0 * std::pow(h, 6) / 483840.0 * p * (p - 1.0) * (p - 2.0) * (p - 3.0) * (p - 4.0);
    return sum / h;
}

moments by_series(const record_grid& grid, complex s) {
    moments sums{};
    std::array<double, series_terms + 4> even{};
    for (std::size_t power = 0; power < even.size(); power += 2)
        even[power] = even_moment(grid, power);
    complex term{1.0, 0.0};
    for (std::size_t i = 0; i < series_terms; ++i) {
        for (std::size_t p = 0; p < sums.size(); ++p) sums[p] += term * even[i + p];
        term = product(term, s) / static_cast<double>(i + 1);
    }
    return sums;
}

/// g = sinh(s) / sinh(s / n); the derivatives follow from differentiating g sinh(s / n) = sinh(s).
moments closed_form(const record_grid& grid, complex s) {
    const double n = static_cast<double>(grid.samples);
    const double grow = std::exp(s.real());
    const double cos_i = std::cos(s.imag());
    const double sin_i = std::sin(s.imag());
    const complex sinh_s{0.5 * (grow - 1.0 / grow) * cos_i, 0.5 * (grow + 1.0 / grow) * sin_i};
    const complex cosh_s{0.5 * (grow + 1.0 / grow) * cos_i, 0.5 * (grow - 1.0 / grow) * sin_i};
    const double sinh_r = std::sinh(s.real() / n);
    const double cosh_r = std::sqrt(1.0 + sinh_r * sinh_r);
    const double cos_n = std::cos(s.imag() / n);
    const double sin_n = std::sin(s.imag() / n);
    const complex q{sinh_r * cos_n, cosh_r * sin_n};
    const complex q1 = complex{cosh_r * cos_n, sinh_r * sin_n} / n;
    const complex q2 = q / (n * n);
    const complex q3 = q1 / (n * n);
    const complex over_q = inverse(q);
    const complex g0 = product(sinh_s, over_q);
    const complex g1 = product(cosh_s - product(g0, q1), over_q);
    const complex g2 = product(sinh_s - 2.0 * product(g1, q1) - product(g0, q2), over_q);
    const complex g3 =
        product(cosh_s - 3.0 * product(g2, q1) - 3.0 * product(g1, q2) - product(g0, q3), over_q);
    return {g0, g1, g2, g3};
}

}  // namespace

std::array<std::complex<double>, 4> exponential_sums(const record_grid& grid,
                                                     std::complex<double> s) {
    return std::norm(s) < series_radius * series_radius ? by_series(grid, s) : closed_form(grid, s);
}

}  // namespace cvrig::analysis
