#include "analysis/tone_state.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::analysis {
namespace {

using complex = std::complex<double>;

// Rounding of sums that cancel: below this share of the energy a residual is not told from 0.
constexpr double rounding = 1e-13;

/// Sum over the lines of Re(a b).
double real_dot(const line_values& a, const line_values& b) {
    double sum = (a.harmonics * b.harmonics).sum().real();
    for (std::size_t m = 0; m < foreign_lines; ++m) sum += (a.foreign[m] * b.foreign[m]).real();
    return sum;
}

/// Moments of the record at the lines of the model, order by order.
template <std::size_t Orders>
using record_moments = std::array<line_values, Orders>;

template <std::size_t Orders, class At>
record_moments<Orders> moments_of(const line_frequencies& lines, At at) {
    record_moments<Orders> m;
    for (auto& values : m) values.harmonics.resize(static_cast<Eigen::Index>(lines.harmonics));
    for (std::size_t line = 0; line < lines.used_foreign(); ++line) {
        const std::array<complex, Orders> here = at(lines.foreign(line));
        for (std::size_t p = 0; p < Orders; ++p) m[p].foreign[line] = here[p];
    }
    for (std::size_t k = 0; k < lines.harmonics; ++k) {
        const std::array<complex, Orders> here = at(lines.harmonic(k));
        for (std::size_t p = 0; p < Orders; ++p)
            m[p].harmonics(static_cast<Eigen::Index>(k)) = here[p];
    }
    return m;
}

record_moments<2> low_moments_of(const continuous_spectrum& spectrum,
                                 const line_frequencies& lines) {
    return moments_of<2>(lines, [&](complex s) { return spectrum.low_moments(s); });
}

line_values difference(const line_values& a, const line_values& b) {
    line_values c;
    c.harmonics = a.harmonics - b.harmonics;
    for (std::size_t m = 0; m < foreign_lines; ++m) c.foreign[m] = a.foreign[m] - b.foreign[m];
    return c;
}

tone_state evaluated(const record_moments<2>& record, double energy, harmonic_basis basis,
                     const line_values& amplitudes) {
    tone_columns columns = columns_of(basis, amplitudes);
    const auto modelled = basis.correlate(columns.tone, 0, columns.tone, 1);
    tone_state state{std::move(basis), std::move(columns), difference(record[0], modelled[0]),
                     difference(record[1], modelled[1]), 0.0};
    // |y - m|^2 = |y|^2 - <y, m> - <y - m, m>
    state.residual = energy - real_dot(state.amplitudes(), record[0]) -
                     real_dot(state.amplitudes(), state.level);
    state.residual = std::max(state.residual, rounding * energy);
    return state;
}

}  // namespace

tone_state evaluate_tone(const continuous_spectrum& spectrum, double energy,
                         const line_frequencies& lines, const line_values& amplitudes,
                         const cycle_fourier& fourier) {
    return evaluated(low_moments_of(spectrum, lines), energy,
                     harmonic_basis{spectrum.grid(), lines, fourier}, amplitudes);
}

tone_state first_tone(const continuous_spectrum& spectrum, double energy,
                      const line_frequencies& lines) {
    const auto record = low_moments_of(spectrum, lines);
    harmonic_basis basis{spectrum.grid(), lines};
    line_values amplitudes;
    amplitudes.harmonics =
        record[0].harmonics.conjugate() * (2.0 / basis.difference_product(0, 0).real());
    return evaluated(record, energy, std::move(basis), amplitudes);
}

tone_state with_hum(const continuous_spectrum& spectrum, const tone_state& state, double mains) {
    tone_state out = state;
    out.basis = state.basis.with_mains(mains);
    const auto level = out.basis.foreign_of_correlation(state.amplitudes(), 0);
    const auto slope = out.basis.foreign_of_correlation(state.amplitudes(), 1);
    for (std::size_t m = 1; m < foreign_lines; ++m) {
        const auto record = spectrum.low_moments(out.lines().foreign(m));
        out.level.foreign[m] = record[0] - level[m];
        out.slope.foreign[m] = record[1] - slope[m];
    }
    return out;
}

double hum_information(const tone_state& state) {
    const double square = state.basis.foreign_sum(0, 0, 2).real();
    double sum = 0.0;
    for (std::size_t m = 1; m < foreign_lines; ++m)
        sum += 0.5 * square * static_cast<double>(m * m) * std::norm(state.amplitudes().foreign[m]);
    return sum;
}

tone_step gradient_of(const tone_state& state, const tone_priors& priors, double nominal_mains) {
    tone_step g;
    g.amplitudes.harmonics = state.level.harmonics.conjugate();
    for (std::size_t m = 0; m < foreign_lines; ++m)
        g.amplitudes.foreign[m] = std::conj(state.level.foreign[m]);
    for (Eigen::Index k = 0; k < state.amplitudes().harmonics.size(); ++k) {
        const complex pull = state.amplitudes().harmonics(k) * state.slope.harmonics(k);
        g.pitch -= static_cast<double>(k + 1) * pull.imag();
        g.decay -= pull.real();
    }
    for (std::size_t m = 1; m < foreign_lines; ++m) {
        g.mains -= static_cast<double>(m) *
                   (state.amplitudes().foreign[m] * state.slope.foreign[m]).imag();
        g.amplitudes.foreign[m] -= priors.hum_amplitude * state.amplitudes().foreign[m];
    }
    const double mains = state.lines().mains;
    if (mains > 0.0) g.mains += priors.mains * (nominal_mains - mains);
    return g;
}

double objective(const tone_state& state, const tone_priors& priors, double nominal_mains) {
    const double away = state.lines().mains - nominal_mains;
    double sum = state.residual + (priors.mains < held ? priors.mains * away * away : 0.0);
    for (std::size_t m = 1; m < foreign_lines; ++m)
        sum += priors.hum_amplitude * std::norm(state.amplitudes().foreign[m]);
    return sum;
}

double residual_colour(const continuous_spectrum& spectrum, const tone_state& state,
                       double variance) {
    const auto record = moments_of<4>(state.lines(), [&](complex s) { return spectrum.at(s); });
    const auto& tone = state.columns.tone;
    const auto high = state.basis.correlate(tone, 2, tone, 3);
    const std::array<line_values, 4> rest{state.level, state.slope, difference(record[2], high[0]),
                                          difference(record[3], high[1])};
    const double norm = state.basis.difference_product(0, 0).real();
    double weighted = 0.0;
    double weights = 0.0;
    double squares = 0.0;
    for (Eigen::Index k = 0; k < state.amplitudes().harmonics.size(); ++k) {
        const complex first = rest[1].harmonics(k);
        const complex second = 1.5 * rest[2].harmonics(k) - 0.5 * rest[0].harmonics(k);
        const complex third = 2.5 * rest[3].harmonics(k) - 1.5 * rest[1].harmonics(k);
        const double power =
            (3.0 * std::norm(first) + 5.0 * std::norm(second) + 7.0 * std::norm(third)) /
            (3.0 * norm);
        const double order = static_cast<double>(k + 1);
        const double weight = order * order * std::norm(state.amplitudes().harmonics(k));
        weighted += weight * power;
        weights += weight;
        squares += weight * weight;
    }
    if (weights <= 0.0) return 1.0;
    // Two of the six numbers for each harmonic vanish by the fit itself if there is one harmonic
    // only.
    const double freedom = std::max(6.0 * weights * weights / squares - 2.0, 1.0);
    return weighted / weights / variance * (freedom + 2.0) / freedom;
}

}  // namespace cvrig::analysis
