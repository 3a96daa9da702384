#include "analysis/tone_fit.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "analysis/tone_state.hpp"

namespace cvrig::analysis {
namespace {

constexpr int most_iterations = 40;
constexpr int most_halvings = 10;
// A step that would lower the squares by less than this share of one sample's noise is the last:
// it is taken without looking, and those not taken after it would move the pitch by less than a
// twentieth of its uncertainty.
constexpr double negligible_gain = 1e-2;
constexpr double longest_turn =
    1.0;  // radians by which a step may turn the typical harmonic at the ends
// Six numbers describe three lines of hum: chance gives as much once in 3000 notes.
constexpr double telling_hum = 25.0;
constexpr double mains_spread = 0.002;  // standard deviation of mains over its nominal frequency
constexpr double hum_spread = 0.3;      // standard deviation of a hum line over the record's rms

double degrees_of_freedom(const record_grid& grid, const line_frequencies& lines) {
    const double fitted = 2.0 * static_cast<double>(lines.harmonics + lines.used_foreign()) + 1.0;
    return std::max(static_cast<double>(grid.samples) - fitted, 1.0);
}

/// The fall of the squares that a Newton step promises.
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

tone_parameters stepped(const tone_state& from, const tone_step& step, double share,
                        double nominal_mains) {
    line_frequencies lines = from.lines();
    const double longest = longest_turn / typical_order(from.amplitudes());
    lines.pitch += std::clamp(share * step.pitch, -longest, longest);
    lines.pitch = std::min(lines.pitch, highest_pitch(from.basis.grid(), lines.harmonics));
    lines.decay = std::clamp(lines.decay + share * step.decay, -steepest_decay, steepest_decay);
    if (lines.mains > 0.0)
        lines.mains = std::clamp(lines.mains + share * step.mains, 0.99 * nominal_mains,
                                 1.01 * nominal_mains);
    line_values a = from.amplitudes();
    a.harmonics += share * step.amplitudes.harmonics;
    for (std::size_t m = 0; m < foreign_lines; ++m)
        a.foreign[m] += share * step.amplitudes.foreign[m];
    return {lines, a};
}

/// Harmonics are nearly orthogonal when many periods carry weight, which decay leaves fewer of.
std::size_t dense_harmonics(const line_frequencies& lines) {
    const double periods = lines.pitch / std::numbers::pi / (1.0 + 2.0 * std::abs(lines.decay));
    return periods < 6.0 ? 24 : 8;
}

/// One run of Gauss-Newton steps to its end.
struct settled {
    tone_state state;
    tone_parameters found;  ///< one last step, too small to be worth an evaluation, from `state`
    double residual{0};     ///< after that step
    double unit_pitch_variance{0};
    bool converged{false};
};

struct problem {
    const continuous_spectrum& spectrum;
    const tone_start& start;

    [[nodiscard]] double variance(const tone_state& state) const {
        return state.residual / degrees_of_freedom(spectrum.grid(), state.lines());
    }
    [[nodiscard]] tone_priors priors(const tone_state& state) const {
        if (state.lines().mains <= 0.0) return {0.0, held, start.may_decay ? 0.0 : held};
        const double rms_squared = start.energy / static_cast<double>(spectrum.grid().samples);
        const double spread = mains_spread * start.mains;
        return {variance(state) / (hum_spread * hum_spread * rms_squared),
                variance(state) / (spread * spread), start.may_decay ? 0.0 : held};
    }
};

/// The longest share of a step, of 1, 1/2, 1/4, ..., that does not raise the objective.
std::optional<tone_state> improved(const problem& p, const tone_state& state, const tone_step& step,
                                   const tone_priors& priors) {
    const double before = objective(state, priors, p.start.mains) * (1.0 + 1e-10);
    double share = 1.0;
    for (int h = 0; h <= most_halvings; ++h, share *= 0.5) {
        const tone_parameters to = stepped(state, step, share, p.start.mains);
        tone_state next = evaluate_tone(p.spectrum, p.start.energy, to.lines, to.amplitudes,
                                        state.basis.fourier());
        if (objective(next, priors, p.start.mains) <= before) return next;
    }
    return std::nullopt;
}

/// Stops early, unconverged, at the first step if that promises less than `worthwhile` variances.
settled settle(const problem& p, tone_state state, double worthwhile) {
    bool mains_held = true;
    for (int i = 0; i < most_iterations; ++i) {
        tone_priors priors = p.priors(state);
        // Weak hum says nothing of its frequency, and a Newton step from nothing leads astray.
        mains_held = mains_held && hum_information(state) < 10.0 * priors.mains;
        if (mains_held) priors.mains = held;
        const tone_step gradient = gradient_of(state, priors, p.start.mains);
        const tone_hessian hessian{state.basis, state.columns, priors,
                                   dense_harmonics(state.lines())};
        const tone_step step = hessian.solve(gradient);
        const double fall = promised(gradient, step);
        const double gain = fall / p.variance(state);
        const bool done = i > 0 && gain < negligible_gain;
        std::optional<tone_state> next;
        if (!done && (i > 0 || gain >= worthwhile)) next = improved(p, state, step, priors);
        if (!next) {
            // Done, or not worth while, or no step helps: then the rounding of the sums is reached.
            tone_parameters found = stepped(state, step, done ? 1.0 : 0.0, p.start.mains);
            const double residual = state.residual - (done ? fall : 0.0);
            return {std::move(state), std::move(found), residual, hessian.pitch_variance(), i > 0};
        }
        state = std::move(*next);
    }
    tone_parameters found{state.lines(), state.amplitudes()};
    const double residual = state.residual;
    return {std::move(state), std::move(found), residual, 0.0, false};
}

}  // namespace

tone_fit fit_tone(const continuous_spectrum& spectrum, const tone_start& start) {
    const problem p{spectrum, start};
    const line_frequencies first{start.pitch, start.decay, 0.0, start.harmonics};
    settled s = settle(p, first_tone(spectrum, start.energy, first), 0.0);
    if (start.mains > 0.0) {
        // Hum that does not show would only widen the uncertainty, most of all near its own lines.
        settled hum = settle(p, with_hum(spectrum, s.state, start.mains), telling_hum);
        if (hum.converged) s = std::move(hum);
    }
    const double variance = p.variance(s.state);
    return {s.found.lines,
            s.found.amplitudes,
            s.residual,
            variance,
            variance * s.unit_pitch_variance,
            residual_colour(spectrum, s.state, variance),
            s.converged};
}

}  // namespace cvrig::analysis
