#include "analysis/tone_fit.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "analysis/tone_hessian.hpp"

namespace cvrig::analysis {
namespace {

using complex = std::complex<double>;

constexpr int most_iterations = 40;
constexpr int most_halvings = 10;
// A step that would lower the squares by less than this share of one sample's noise is no step.
constexpr double negligible_gain = 1e-3;
// Rounding of sums that cancel: below this share of the energy a residual is not told from 0.
constexpr double rounding = 1e-13;
constexpr double longest_turn =
    1.0;  // radians by which a step may turn the typical harmonic at the ends
// Six numbers describe three lines of hum: chance gives as much once in 3000 notes.
constexpr double telling_hum = 25.0;
constexpr double mains_spread = 0.002;  // standard deviation of mains over its nominal frequency
constexpr double held = 1e30;           // precision of a parameter that must stay where it is
constexpr double hum_spread = 0.3;      // standard deviation of a hum line over the record's rms

/// Parameters, and everything that depends on them.
struct fit_state {
    harmonic_basis basis;
    line_values amplitudes;
    line_values level;  // sum of residual * exp(s u)
    line_values slope;  // sum of residual * u exp(s u)
    double residual{0};
};

/// Sum over the lines of Re(a b).
double real_dot(const line_values& a, const line_values& b) {
    double sum = (a.harmonics * b.harmonics).sum().real();
    for (std::size_t m = 0; m < foreign_lines; ++m) sum += (a.foreign[m] * b.foreign[m]).real();
    return sum;
}

struct record_moments {
    std::array<line_values, 4> order;
};

record_moments moments_of(const continuous_spectrum& spectrum, const line_frequencies& lines) {
    record_moments m;
    for (auto& values : m.order)
        values.harmonics.resize(static_cast<Eigen::Index>(lines.harmonics));
    for (std::size_t line = 0; line < lines.used_foreign(); ++line) {
        const auto at = spectrum.at(lines.foreign(line));
        for (std::size_t p = 0; p < at.size(); ++p) m.order[p].foreign[line] = at[p];
    }
    for (std::size_t k = 0; k < lines.harmonics; ++k) {
        const auto at = spectrum.at(lines.harmonic(k));
        for (std::size_t p = 0; p < at.size(); ++p)
            m.order[p].harmonics(static_cast<Eigen::Index>(k)) = at[p];
    }
    return m;
}

line_values difference(const line_values& a, const line_values& b) {
    line_values c;
    c.harmonics = a.harmonics - b.harmonics;
    for (std::size_t m = 0; m < foreign_lines; ++m) c.foreign[m] = a.foreign[m] - b.foreign[m];
    return c;
}

fit_state evaluate(const continuous_spectrum& spectrum, double energy,
                   const line_frequencies& lines, const line_values& amplitudes) {
    fit_state state{harmonic_basis{spectrum.grid(), lines}, amplitudes, {}, {}, 0.0};
    const record_moments record = moments_of(spectrum, lines);
    state.level = difference(record.order[0], state.basis.correlate(amplitudes, 0));
    state.slope = difference(record.order[1], state.basis.correlate(amplitudes, 1));
    // |y - m|^2 = |y|^2 - <y, m> - <y - m, m>
    state.residual =
        energy - real_dot(amplitudes, record.order[0]) - real_dot(amplitudes, state.level);
    state.residual = std::max(state.residual, rounding * energy);
    return state;
}

double degrees_of_freedom(const record_grid& grid, const line_frequencies& lines) {
    const double fitted = 2.0 * static_cast<double>(lines.harmonics + lines.used_foreign()) + 1.0;
    return std::max(static_cast<double>(grid.samples) - fitted, 1.0);
}

/// Second derivative of the squares with respect to the mains frequency, one line at a time.
double hum_information(const fit_state& state) {
    const double square = exponential_sums(state.basis.grid(), 0.0)[2].real();
    double sum = 0.0;
    for (std::size_t m = 1; m < foreign_lines; ++m)
        sum += 0.5 * square * static_cast<double>(m * m) * std::norm(state.amplitudes.foreign[m]);
    return sum;
}

tone_step gradient_of(const fit_state& state, const tone_priors& priors, double nominal_mains) {
    tone_step g;
    g.amplitudes.harmonics = state.level.harmonics.conjugate();
    for (std::size_t m = 0; m < foreign_lines; ++m)
        g.amplitudes.foreign[m] = std::conj(state.level.foreign[m]);
    for (Eigen::Index k = 0; k < state.amplitudes.harmonics.size(); ++k) {
        const complex pull = state.amplitudes.harmonics(k) * state.slope.harmonics(k);
        g.pitch -= static_cast<double>(k + 1) * pull.imag();
        g.decay -= pull.real();
    }
    for (std::size_t m = 1; m < foreign_lines; ++m) {
        g.mains -=
            static_cast<double>(m) * (state.amplitudes.foreign[m] * state.slope.foreign[m]).imag();
        g.amplitudes.foreign[m] -= priors.hum_amplitude * state.amplitudes.foreign[m];
    }
    const double mains = state.basis.lines().mains;
    if (mains > 0.0) g.mains += priors.mains * (nominal_mains - mains);
    return g;
}

/// The squares and what the priors add to them.
double objective(const fit_state& state, const tone_priors& priors, double nominal_mains) {
    const double away = state.basis.lines().mains - nominal_mains;
    double sum = state.residual + (priors.mains < held ? priors.mains * away * away : 0.0);
    for (std::size_t m = 1; m < foreign_lines; ++m)
        sum += priors.hum_amplitude * std::norm(state.amplitudes.foreign[m]);
    return sum;
}

/// Twice the fall of the squares that a Newton step promises.
double promised(const tone_step& g, const tone_step& step) {
    double sum = g.pitch * step.pitch + g.decay * step.decay + g.mains * step.mains;
    for (std::size_t m = 0; m < foreign_lines; ++m)
        sum += (std::conj(g.amplitudes.foreign[m]) * step.amplitudes.foreign[m]).real();
    return sum + (g.amplitudes.harmonics.conjugate() * step.amplitudes.harmonics).sum().real();
}

/// The highest harmonic stays below Nyquist.
double highest_pitch(const record_grid& grid, std::size_t harmonics) {
    return 0.5 * std::numbers::pi * static_cast<double>(grid.samples) /
           (static_cast<double>(harmonics) + 0.01);
}

/// Root mean square harmonic number, by power.
double typical_order(const line_values& a) {
    double power = 1e-300;
    double turned = 1e-300;
    for (Eigen::Index k = 0; k < a.harmonics.size(); ++k) {
        power += std::norm(a.harmonics(k));
        turned += std::norm(a.harmonics(k)) * static_cast<double>((k + 1) * (k + 1));
    }
    return std::sqrt(turned / power);
}

struct tone_parameters {
    line_frequencies lines;
    line_values amplitudes;
};

tone_parameters stepped(const fit_state& from, const tone_step& step, double share,
                        double nominal_mains) {
    line_frequencies lines = from.basis.lines();
    const double longest = longest_turn / typical_order(from.amplitudes);
    lines.pitch += std::clamp(share * step.pitch, -longest, longest);
    lines.pitch = std::min(lines.pitch, highest_pitch(from.basis.grid(), lines.harmonics));
    lines.decay = std::clamp(lines.decay + share * step.decay, -steepest_decay, steepest_decay);
    if (lines.mains > 0.0)
        lines.mains = std::clamp(lines.mains + share * step.mains, 0.99 * nominal_mains,
                                 1.01 * nominal_mains);
    line_values a = from.amplitudes;
    a.harmonics += share * step.amplitudes.harmonics;
    for (std::size_t m = 0; m < foreign_lines; ++m)
        a.foreign[m] += share * step.amplitudes.foreign[m];
    return {lines, a};
}

/// Harmonics are nearly orthogonal when many periods carry weight, which decay leaves fewer of.
std::size_t dense_harmonics(const line_frequencies& lines) {
    const double periods = lines.pitch / std::numbers::pi / (1.0 + 2.0 * std::abs(lines.decay));
    return periods < 6.0 ? 64 : 8;
}

/// Power of the residual in the first three Legendre polynomials of time about each harmonic,
/// weighted as the harmonics count for the pitch, over what white noise of the same total power has
/// there.
double residual_colour(const continuous_spectrum& spectrum, const fit_state& state,
                       double variance) {
    const record_moments record = moments_of(spectrum, state.basis.lines());
    std::array<line_values, 4> rest;
    for (std::size_t p = 0; p < rest.size(); ++p)
        rest[p] = difference(record.order[p], state.basis.correlate(state.amplitudes, p));
    const double norm =
        exponential_sums(state.basis.grid(), -2.0 * state.basis.lines().decay)[0].real();
    double weighted = 0.0;
    double weights = 0.0;
    double squares = 0.0;
    for (Eigen::Index k = 0; k < state.amplitudes.harmonics.size(); ++k) {
        const complex first = rest[1].harmonics(k);
        const complex second = 1.5 * rest[2].harmonics(k) - 0.5 * rest[0].harmonics(k);
        const complex third = 2.5 * rest[3].harmonics(k) - 1.5 * rest[1].harmonics(k);
        const double power =
            (3.0 * std::norm(first) + 5.0 * std::norm(second) + 7.0 * std::norm(third)) /
            (3.0 * norm);
        const double order = static_cast<double>(k + 1);
        const double weight = order * order * std::norm(state.amplitudes.harmonics(k));
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

/// One run of Gauss-Newton steps to its end.
struct settled {
    fit_state state;
    tone_parameters found;  ///< one last step, too small to be worth an evaluation, from `state`
    double unit_pitch_variance{0};
    bool converged{false};
};

struct problem {
    const continuous_spectrum& spectrum;
    const tone_start& start;

    [[nodiscard]] double variance(const fit_state& state) const {
        return state.residual / degrees_of_freedom(spectrum.grid(), state.basis.lines());
    }
    [[nodiscard]] tone_priors priors(const fit_state& state) const {
        if (state.basis.lines().mains <= 0.0) return {0.0, held, start.may_decay ? 0.0 : held};
        const double rms_squared = start.energy / static_cast<double>(spectrum.grid().samples);
        const double spread = mains_spread * start.mains;
        return {variance(state) / (hum_spread * hum_spread * rms_squared),
                variance(state) / (spread * spread), start.may_decay ? 0.0 : held};
    }
};

/// The longest share of a step, of 1, 1/2, 1/4, ..., that does not raise the objective.
std::optional<fit_state> improved(const problem& p, const fit_state& state, const tone_step& step,
                                  const tone_priors& priors) {
    const double before = objective(state, priors, p.start.mains) * (1.0 + 1e-10);
    double share = 1.0;
    for (int h = 0; h <= most_halvings; ++h, share *= 0.5) {
        const tone_parameters to = stepped(state, step, share, p.start.mains);
        fit_state next = evaluate(p.spectrum, p.start.energy, to.lines, to.amplitudes);
        if (objective(next, priors, p.start.mains) <= before) return next;
    }
    return std::nullopt;
}

/// Stops early, unconverged, at the first step if that promises less than `worthwhile` variances.
settled settle(const problem& p, fit_state state, double worthwhile) {
    bool mains_held = true;
    for (int i = 0; i < most_iterations; ++i) {
        tone_priors priors = p.priors(state);
        // Weak hum says nothing of its frequency, and a Newton step from nothing leads astray.
        mains_held = mains_held && hum_information(state) < 10.0 * priors.mains;
        if (mains_held) priors.mains = held;
        const tone_step gradient = gradient_of(state, priors, p.start.mains);
        const tone_hessian hessian{state.basis, state.amplitudes, priors,
                                   dense_harmonics(state.basis.lines())};
        const tone_step step = hessian.solve(gradient);
        const double gain = promised(gradient, step) / p.variance(state);
        const double unit_variance = hessian.pitch_variance();
        const bool done = i > 0 && gain < negligible_gain;
        std::optional<fit_state> next;
        if (!done && (i > 0 || gain >= worthwhile)) next = improved(p, state, step, priors);
        if (!next) {
            // Done, or not worth while, or no step helps: then the rounding of the sums is reached.
            tone_parameters found = stepped(state, step, done ? 1.0 : 0.0, p.start.mains);
            return {std::move(state), std::move(found), unit_variance, i > 0};
        }
        state = std::move(*next);
    }
    tone_parameters found{state.basis.lines(), state.amplitudes};
    return {std::move(state), std::move(found), 0.0, false};
}

/// The same parameters in a model with hum lines, which are silent yet.
fit_state with_hum(const problem& p, const tone_parameters& found) {
    line_frequencies lines = found.lines;
    lines.mains = p.start.mains;
    return evaluate(p.spectrum, p.start.energy, lines, found.amplitudes);
}

}  // namespace

tone_fit fit_tone(const continuous_spectrum& spectrum, const tone_start& start) {
    line_values none;
    none.harmonics = Eigen::ArrayXcd::Zero(static_cast<Eigen::Index>(start.harmonics));
    const problem p{spectrum, start};
    const line_frequencies first{start.pitch, start.decay, 0.0, start.harmonics};
    settled s = settle(p, evaluate(spectrum, start.energy, first, none), 0.0);
    if (start.mains > 0.0) {
        // Hum that does not show would only widen the uncertainty, most of all near its own lines.
        settled hum = settle(p, with_hum(p, s.found), telling_hum);
        if (hum.converged) s = std::move(hum);
    }
    const double variance = p.variance(s.state);
    return {s.found.lines,
            s.found.amplitudes,
            s.state.residual,
            variance,
            variance * s.unit_pitch_variance,
            residual_colour(spectrum, s.state, variance),
            s.converged};
}

}  // namespace cvrig::analysis
