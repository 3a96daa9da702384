#include "analysis/exponential_sums.hpp"

#include <algorithm>
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
    const double h2 = h * h;
    double sum = 2.0 / (p + 1.0);
    if (power >= 2) sum -= h2 / 12.0 * p;
    if (power >= 4) sum += 7.0 * h2 * h2 / 2880.0 * p * (p - 1.0) * (p - 2.0);
    if (power >= 6)
        sum -= 31.0 * h2 * h2 * h2 / 483840.0 * p * (p - 1.0) * (p - 2.0) * (p - 3.0) * (p - 4.0);
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

constexpr std::size_t lanes = 8;
using lane_values = std::array<double, lanes>;

/// Cosine and sine of `lanes` evenly spaced angles, moved on together.
struct turning {
    turning(double first, double spacing)
        : step_cos_{std::cos(spacing * lanes)}, step_sin_{std::sin(spacing * lanes)} {
        for (std::size_t i = 0; i < lanes; ++i) {
            cos[i] = std::cos(first + spacing * static_cast<double>(i));
            sin[i] = std::sin(first + spacing * static_cast<double>(i));
        }
    }
    void next() {
        for (std::size_t i = 0; i < lanes; ++i) {
            const double c = cos[i] * step_cos_ - sin[i] * step_sin_;
            sin[i] = sin[i] * step_cos_ + cos[i] * step_sin_;
            cos[i] = c;
        }
    }

    lane_values cos, sin;

private:
    double step_cos_, step_sin_;
};

/// What the real part of s contributes, the same for all lines.
struct decay_factors {
    decay_factors(double decay, double samples)
        : sinh{std::sinh(decay)},
          cosh{std::cosh(decay)},
          sinh_n{std::sinh(decay / samples)},
          cosh_n{std::cosh(decay / samples)},
          over_n{1.0 / samples} {}

    double sinh, cosh, sinh_n, cosh_n, over_n;
};

/// The closed form for `lanes` lines at once. With r = coth(s / n) / n and c = cosh(s) / sinh(s/n),
/// g1 = c - g r, g2 = g (1 - 1/n^2) - 2 g1 r, g3 = c - 3 g2 r - (3 g1 + g r) / n^2.
void closed_forms(const decay_factors& d, const turning& whole, const turning& part,
                  std::array<lane_values, 4>& re, std::array<lane_values, 4>& im) {
    const double h = d.over_n * d.over_n;
    for (std::size_t i = 0; i < lanes; ++i) {
        const double q_re = d.sinh_n * part.cos[i];
        const double q_im = d.cosh_n * part.sin[i];
        const double norm = 1.0 / (q_re * q_re + q_im * q_im);
        const double inv_re = q_re * norm;
        const double inv_im = -q_im * norm;
        const double s_re = d.sinh * whole.cos[i];
        const double s_im = d.cosh * whole.sin[i];
        const double k_re = d.cosh * whole.cos[i];
        const double k_im = d.sinh * whole.sin[i];
        const double p_re = d.cosh_n * part.cos[i] * d.over_n;
        const double p_im = d.sinh_n * part.sin[i] * d.over_n;
        const double r_re = p_re * inv_re - p_im * inv_im;
        const double r_im = p_re * inv_im + p_im * inv_re;
        const double c_re = k_re * inv_re - k_im * inv_im;
        const double c_im = k_re * inv_im + k_im * inv_re;
        const double g_re = s_re * inv_re - s_im * inv_im;
        const double g_im = s_re * inv_im + s_im * inv_re;
        const double gr_re = g_re * r_re - g_im * r_im;
        const double gr_im = g_re * r_im + g_im * r_re;
        re[0][i] = g_re;
        im[0][i] = g_im;
        re[1][i] = c_re - gr_re;
        im[1][i] = c_im - gr_im;
        re[2][i] = g_re * (1.0 - h) - 2.0 * (re[1][i] * r_re - im[1][i] * r_im);
        im[2][i] = g_im * (1.0 - h) - 2.0 * (re[1][i] * r_im + im[1][i] * r_re);
        re[3][i] = c_re - 3.0 * (re[2][i] * r_re - im[2][i] * r_im) - h * (3.0 * re[1][i] + gr_re);
        im[3][i] = c_im - 3.0 * (re[2][i] * r_im + im[2][i] * r_re) - h * (3.0 * im[1][i] + gr_im);
    }
}

}  // namespace

exponential_comb::exponential_comb(const record_grid& grid, double decay, double first,
                                   double spacing, std::size_t count) {
    const double n = static_cast<double>(grid.samples);
    for (auto& o : order) {
        o.re.resize(count);
        o.im.resize(count);
    }
    const decay_factors factors{decay, n};
    turning whole{first, spacing};
    turning part{first / n, spacing / n};
    std::array<lane_values, 4> re;
    std::array<lane_values, 4> im;
    for (std::size_t begin = 0; begin < count; begin += lanes, whole.next(), part.next()) {
        closed_forms(factors, whole, part, re, im);
        const std::size_t used = std::min(lanes, count - begin);
        for (std::size_t p = 0; p < order.size(); ++p) {
            std::copy_n(re[p].begin(), used,
                        order[p].re.begin() + static_cast<std::ptrdiff_t>(begin));
            std::copy_n(im[p].begin(), used,
                        order[p].im.begin() + static_cast<std::ptrdiff_t>(begin));
        }
    }
    for (std::size_t k = 0; k < count; ++k) {
        const complex s{decay, first + static_cast<double>(k) * spacing};
        if (std::norm(s) >= series_radius * series_radius) continue;
        const moments sums = by_series(grid, s);
        for (std::size_t p = 0; p < order.size(); ++p) {
            order[p].re[k] = sums[p].real();
            order[p].im[k] = sums[p].imag();
        }
    }
}

std::array<std::complex<double>, 4> exponential_sums(const record_grid& grid,
                                                     std::complex<double> s) {
    return std::norm(s) < series_radius * series_radius ? by_series(grid, s) : closed_form(grid, s);
}

}  // namespace cvrig::analysis
