#include "analysis/glide_solve.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "analysis/glide_filter_start.hpp"
#include "analysis/glide_scene.hpp"
#include "analysis/glide_start.hpp"

namespace cvrig::analysis::gliding {

using Eigen::Index;
using Eigen::VectorXd;

namespace {

constexpr std::array<glide_shape, 3> every_shape{glide_shape::exponential_in_volts,
                                                 glide_shape::exponential_in_hertz,
                                                 glide_shape::linear_in_volts};
using std::numbers::ln2;

// Misfit beyond the noise, of the voice's RMS.
constexpr double most_misfit = 0.2;
// A filter model bends further before it breaks, so what it leaves must be less.
constexpr double most_misfit_filtered = 0.01;
// A voice that is only roughly modelled must show the end of its slide.
constexpr double rough_misfit = 0.005;
constexpr double most_left = 0.1;
constexpr double decided_odds = 10.0;  // natural logarithm of the likelihood ratio
constexpr double far_less = 4.0;       // residual power

solution fit_fixed(const scene& s, const glide_law& law) {
    const auto [window, volts] = cut(s, law, false);
    solution out{voice_model{window}, {}, s.prior, expected_variance(s), false};
    out.fit = fit_voice(out.model, volts, {law, 0.0, false, {}}, s.prior, 20);
    return out;
}

/// A filter that has strayed behind the axis, or stuck in a valley, is sought afresh from the law
/// that it has led to; the law is better by then.
voice_state kicked(solution& s, const VectorXd& volts) {
    voice_state state = s.fit.state;
    const auto causal = state.filter.made_causal();
    const double middle = std::sqrt(state.law.from_hz() * state.law.to_hz());
    const double late = causal.delay_s(middle) - state.filter.delay_s(middle);
    state.law.at[at_start] -= std::clamp(late, -0.25 / middle, 0.25 / middle);
    state.filter = causal;
    return by_equation_error(s.model, volts, state, 2);
}

solution fit_filtered(const scene& s, const glide_law& law, double decay_per_s) {
    constexpr int first_rounds = 12, more_rounds = 30, kicks = 2;
    constexpr std::size_t starts = 4;
    const auto [window, volts] = cut(s, law, true);
    solution out{voice_model{window}, {}, s.prior, expected_variance(s), false};
    const auto keep = [&](voice_fit&& fit) {
        if (out.fit.columns == 0 || fit.rss < out.fit.rss) out.fit = std::move(fit);
        return out.reaches_noise();
    };
    for (const auto& start : filter_starts(out.model, volts, law, decay_per_s, starts))
        if (keep(fit_voice(out.model, volts, start, s.prior, first_rounds))) break;
    for (int kick = 0; kick < kicks && !(out.reaches_noise() && out.fit.settled); ++kick) {
        if (keep(fit_voice(out.model, volts, out.fit.state, s.prior, more_rounds))) break;
        keep(fit_voice(out.model, volts, kicked(out, volts), s.prior, first_rounds));
    }
    return out;
}

/// The same window and filter with another shape, from where the first shape ended.
solution with_shape(const solution& main, const scene& s, const glide_law& law) {
    voice_state state = main.fit.state;
    state.law = law;
    // What the filter delayed, it delays for every shape.
    if (state.filtered) state.law.at[at_start] = main.fit.state.law.start_s();
    solution out{voice_model{main.model.window()}, {}, s.prior, main.noise_variance, false};
    const auto first = static_cast<Index>(
        std::lround((main.model.window().first_s - s.tight.first_s) * s.tight.rate_hz));
    const VectorXd volts = s.tight.volts.segment(first, main.model.window().rows);
    out.fit = fit_voice(out.model, volts, state, s.prior, 12);
    return out;
}

/// One start for each shape that is not out of the question: the usual shape first, if it is among
/// them, then the likelier ones.
std::vector<glide_start> plausible_shapes(const scene& s, const glide_start& usual) {
    constexpr double out_of_question = 3.0;  // times the unlikeness of the best
    std::vector<glide_start> all{usual};
    for (const auto shape : every_shape) {
        if (shape == usual.law.shape) continue;
        glide_law law = usual.law;
        law.shape = shape;
        // A ramp lasts about as long as an exponential takes for the bulk of its way.
        if (shape == glide_shape::linear_in_volts) law.at[ln_tau] += std::log(2.0);
        all.push_back(refined(s.wide, s.prior, law));
    }
    const auto likelier = [](const auto& a, const auto& b) { return a.unlike < b.unlike; };
    const double best = std::min_element(all.begin(), all.end(), likelier)->unlike;
    std::sort(all.begin() + 1, all.end(), likelier);
    std::erase_if(all, [&](const auto& x) { return x.unlike > out_of_question * best; });
    return all;
}

/// Harmonics of fixed amplitude in the presumed shape, or in one that leaves far less.
solution best_fixed(const scene& s, const std::vector<glide_start>& shapes) {
    auto best = fit_fixed(s, shapes.front().law);
    for (std::size_t i = 1; i < shapes.size() && !best.reaches_noise(); ++i) {
        auto next = fit_fixed(s, shapes[i].law);
        if (far_less * next.fit.variance() < best.fit.variance()) best = std::move(next);
    }
    return best;
}

/// Tries the other shapes; a better one replaces the first only if the odds decide for it. Above
/// the noise a missing or wrong filter bends the phase, too: there a shape must leave far less than
/// any other.
void decide_shape(solution& main, const scene& s, const std::vector<glide_start>& shapes) {
    main.shape_decided = !is_jump(main.fit.state.law);
    if (!main.shape_decided) return;
    for (const auto& start : shapes) {
        if (start.law.shape == main.fit.state.law.shape) continue;
        auto other = with_shape(main, s, start.law);
        const double odds = 0.5 * main.fit.independent * std::log(other.fit.rss / main.fit.rss);
        const bool noise_decides = main.reaches_noise() || other.reaches_noise();
        const double least_odds =
            noise_decides ? decided_odds
                          : std::max(decided_odds, 0.5 * main.fit.independent * std::log(far_less));
        if (odds < -least_odds) {
            other.shape_decided = main.shape_decided;
            main = std::move(other);
        } else if (odds < least_odds) {
            main.shape_decided = false;
        }
    }
}

/// Whichever model tells the time constant better.
solution better_of(solution fixed, solution filtered) {
    if (!filtered.explains()) return fixed.explains() ? std::move(fixed) : std::move(filtered);
    const bool prefer_fixed = fixed.explains() && fixed.u_tau_s() < filtered.u_tau_s();
    return prefer_fixed ? std::move(fixed) : std::move(filtered);
}

/// Climbs until a model reaches the noise, or tells enough.
solution climb(const scene& s, const std::vector<glide_start>& shapes, double enough_s) {
    auto fixed = best_fixed(s, shapes);
    decide_shape(fixed, s, shapes);
    if (fixed.reaches_noise() || (fixed.explains() && fixed.u_tau_s() < enough_s)) return fixed;
    auto filtered = fit_filtered(s, shapes.front().law, fixed.fit.state.decay_per_s);
    decide_shape(filtered, s, shapes);
    return better_of(std::move(fixed), std::move(filtered));
}

/// The time constant of the main part by itself, if only the end of the glide follows another law.
std::optional<solution::time_reading> main_part_of(scene s, const solution& whole) {
    constexpr double far_more_alike = 5.0;
    const auto& law = whole.fit.state.law;
    if (whole.fit.state.filtered || whole.reaches_noise() || is_jump(law)) return std::nullopt;
    s.main_part = true;
    const auto part = fit_fixed(s, law);
    if (!(far_more_alike * part.misfit() < whole.misfit())) return std::nullopt;
    return solution::time_reading{part.fit.state.law.tau_s(), part.u_tau_s()};
}

}  // namespace

bool solution::reaches_noise() const {
    // What band edges and digital filters leave of the voice, and what the bend does.
    const double rounding =
        3e-5 + 0.4 * std::min(bend(fit.state.law, model.window().band.edge_hz), 0.01);
    return fit.variance() < 1.3 * noise_variance + std::pow(rounding * fit.signal_rms, 2);
}

double solution::misfit() const {
    const double rows = static_cast<double>(std::max(Index{1}, fit.residual.size()));
    const double excess = std::max(0.0, fit.variance() - noise_variance) * fit.independent / rows;
    return fit.signal_rms > 0 ? std::sqrt(excess) / fit.signal_rms : 1.0;
}

// A narrow slide leaves less for the misfit to be told from. And with harmonics of fixed amplitude a
// phase that drifts by a radian, as that of a moving filter does, looks like a slide that is longer
// by one over 2 pi times its step of frequency, a ramp by twice that; seen is up to twice as much. A
// jump has no time to be longer.
double solution::seconds_of_misfit() const {
    const auto& law = fit.state.law;
    const double octaves = std::abs(law.at[ln_from] - law.at[ln_to]) / ln2;
    const double scale_s = std::max(law.tau_s(), 1 / std::max(law.from_hz(), law.to_hz())) /
                           std::sqrt(std::min(1.0, octaves));
    if (fit.state.filtered) return (reaches_noise() ? 0.3 : 2.0) * scale_s;
    if (is_jump(law)) return 0.1 * scale_s;
    const double radian_s = (law.shape == glide_shape::linear_in_volts ? 2 : 1) /
                            (2 * std::numbers::pi * std::abs(law.from_hz() - law.to_hz()));
    return std::max(0.1 * scale_s, 2 * radian_s);
}

double solution::u_tau_s() const {
    const auto& law = fit.state.law;
    const double of_fit = uncertainty_of(fit, model.window(), prior).u[ln_tau] * law.tau_s();
    // Within a cycle, how the waveform itself turns over cannot be told from how the pitch moves.
    // What the noise's own scatter explains is no misfit of the model.
    const double allowed = 1 + 2 * std::sqrt(2 / std::max(1.0, fit.independent));
    const bool misfits = fit.variance() > allowed * noise_variance;
    const double turn_s = is_jump(law) ? 0.03 / std::min(law.from_hz(), law.to_hz()) : 0.0;
    return std::hypot(of_fit, misfits ? seconds_of_misfit() * misfit() : 0.0, turn_s);
}

bool solution::explains() const {
    if (reaches_noise()) return true;
    const double left_over = misfit();
    const auto& window = model.window();
    const double end_s = window.first_s + static_cast<double>(window.rows) / window.rate_hz;
    if (left_over > rough_misfit && phase_law{fit.state.law}(end_s).left > most_left) return false;
    return left_over < (fit.state.filtered ? most_misfit_filtered : most_misfit);
}

outcome<located> locate_glide(std::span<const double> volts, double rate_hz,
                              const glide_request& request) {
    const scene s = prepare(volts, rate_hz, request);
    const auto found = likeliest(s);
    if (!found) return refuse(found.error());
    return located{s.wide, found->law};
}

outcome<solution> solve_glide(std::span<const double> volts, double rate_hz,
                              const glide_request& request) {
    scene s = prepare(volts, rate_hz, request);
    const auto found = likeliest(s);
    if (!found) return refuse(found.error());
    if (s.noise_rms == 0) s.noise_rms = noise_from_cycles(s, found->law);
    tighten(s, volts, rate_hz, found->law, request);
    if (s.tight.volts.size() < 64) return refuse(refusal::too_short);
    auto best = climb(s, plausible_shapes(s, *found), request.u_enough.value());
    best.main_part = main_part_of(s, best);
    best.record = std::move(s.wide);
    return best;
}

}  // namespace cvrig::analysis::gliding
