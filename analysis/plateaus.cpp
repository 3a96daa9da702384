#include "analysis/plateaus.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <optional>
#include <vector>

#include "analysis/chebyshev.hpp"
#include "analysis/hann.hpp"
#include "analysis/samples.hpp"
#include "analysis/stair_fit.hpp"
#include "analysis/stair_settling.hpp"

namespace cvrig::analysis {
namespace {

constexpr double fewest_steps = 8.0;
constexpr double to_spare_values = 0.5, fewest_clear_values = 2.0;
constexpr int settling_term = stair_terms - 1;
constexpr double largest_unsettled_share = 0.2;
// Timings so near the best are averaged; a Hann window tells as much as so many times fewer values (Harris
// 1978, Table I).
constexpr double values_to_average = 1.25, hann_noise_bandwidth = 1.5;
// An exponential is not quite how a filter's brightness comes to rest: of what it does to the height so much
// is uncertain (type B, from simulated voices with steps rounded by 0.2 to 3 ms).
constexpr double u_settled_share = 0.15;
constexpr double sure_deviations = 3.0;
// What is left over may hide so much of the smaller of the step and its line.
constexpr double largest_pattern_share = 0.05;
// The line tells the height to no more than this, since the tone's harmonics pull at it.
constexpr double u_line_share = 0.2;

/// How far a search goes to either side, in steps: at the middle of the course, and by how much more at
/// its ends.
struct search_turns {
    double place, rate;
};

/// What a timing leaves over if steps may settle, as fast as it likes: without that, a time would be found
/// that hides their rounding.
double least_variance(const stair_course& course, const stair_timing& at,
                      const stair_heights& heights) {
    double least = INFINITY;
    for (const double periods : {0.0, 1.0 / 24.0, 1.0 / 12.0, 1.0 / 6.0, 1.0 / 4.0}) {
        std::optional<stair_settling> settling;
        if (periods > 0.0)
            settling = {.constant_values = periods * at.period_values, .heights = heights};
        if (const auto variance = stair_variance(course, at, settling))
            least = std::min(least, *variance);
    }
    return least;
}

/// A timing and what it leaves over.
struct tried_timing {
    stair_timing at;
    double variance;
};

std::vector<tried_timing> timings_about(const stair_course& course, const stair_timing& about,
                                        const search_turns& turns, const stair_heights& heights) {
    constexpr int to_a_side = 4;
    const double steps = course.length_values() / about.period_values;
    std::vector<tried_timing> out;
    for (int i = -to_a_side; i <= to_a_side; ++i)
        for (int k = -to_a_side; k <= to_a_side; ++k) {
            const stair_timing here{
                about.step_values + turns.place * k / to_a_side * about.period_values,
                about.period_values * (1.0 + 2.0 * turns.rate * i / to_a_side / steps)};
            out.push_back({here, least_variance(course, here, heights)});
        }
    return out;
}

stair_timing best_of(const std::vector<tried_timing>& all) {
    return std::ranges::min_element(all, {}, &tried_timing::variance)->at;
}

struct likely_timing {
    stair_timing at;
    double u_step_values, u_period_values;
};

/// The mean of timings, each as likely as what it leaves over makes it: the best alone would be the one whose
/// noise happens to be least among those that leave out the same values about a step.
likely_timing mean_of(const std::vector<tried_timing>& all, double independent_values) {
    const double least = std::ranges::min_element(all, {}, &tried_timing::variance)->variance;
    if (!(least > 0.0)) return {best_of(all), 0.0, 0.0};
    double weights = 0.0, step = 0.0, period = 0.0, step_square = 0.0, period_square = 0.0;
    const auto& about = all.front().at;
    for (const auto& one : all) {
        const double w = std::exp(-0.5 * independent_values * (one.variance / least - 1.0));
        const double step_off = one.at.step_values - about.step_values;
        const double period_off = one.at.period_values - about.period_values;
        weights += w;
        step += w * step_off;
        period += w * period_off;
        step_square += w * step_off * step_off;
        period_square += w * period_off * period_off;
    }
    step /= weights;
    period /= weights;
    return {{about.step_values + step, about.period_values + period},
            std::sqrt(std::max(0.0, step_square / weights - step * step)),
            std::sqrt(std::max(0.0, period_square / weights - period * period))};
}

/// What multiplies the parameters in the mean step.
stair_parameters mean_step_weights(const stair_course& course, const stair_timing& at) {
    const double length = course.length_values();
    stair_heights weighed = stair_heights::Zero();
    double weights = 0.0;
    for (double t = at.before(0.0) + at.period_values; t < length; t += at.period_values) {
        const double w = hann_weight((t + 0.5) / length);
        weighed += w * height_terms(chebyshev_place(t, length));
        weights += w;
    }
    stair_parameters out = stair_parameters::Zero();
    out.segment<stair_height_terms>(stair_smooth_terms) = weighed / weights;
    return out;
}

/// What is left over at places between two steps.
struct folded {
    std::vector<double> mean, values;  ///< of each place: how many
    double variance{0.0};              ///< about the means
};

folded fold(const stair_fit& fit, double clear_values) {
    const double span = fit.at.period_values - 2.0 * clear_values;
    const auto places = static_cast<std::size_t>(std::clamp(std::floor(span), 2.0, 12.0));
    const auto place_of = [&](const stair_rest& one) {
        const double share = (one.since_step_values - clear_values) / span;
        return std::min(places - 1, static_cast<std::size_t>(
                                        std::max(0.0, share * static_cast<double>(places))));
    };
    folded out{std::vector<double>(places), std::vector<double>(places)};
    for (const auto& one : fit.rest) {
        out.mean[place_of(one)] += one.left_over;
        out.values[place_of(one)] += 1.0;
    }
    for (std::size_t b = 0; b < places; ++b) out.mean[b] /= std::max(1.0, out.values[b]);
    for (const auto& one : fit.rest)
        out.variance += std::pow(one.left_over - out.mean[place_of(one)], 2);
    out.variance /= std::max(1.0, static_cast<double>(fit.rest.size() - places));
    return out;
}

/// What noise alone makes of the sum of n mean^2 / variance over some places with the chance 0.001: about
/// chi square with as many degrees of freedom as places that are independent, since noise that windows share
/// correlates neighbours (F. E. Satterthwaite 1946; its quantile: E. B. Wilson, M. M. Hilferty 1931).
double most_of_noise(double places, double window_values) {
    constexpr double deviations = 3.090;
    double correlations = 1.0;
    for (double lag = 1.0; lag < window_values; lag += 1.0)
        correlations += 2.0 * std::pow(hann_overlap(lag / window_values), 2);
    const double share = 2.0 / 9.0 * correlations / places;
    return places * std::pow(1.0 - share + deviations * std::sqrt(share), 3);
}

/// What a pattern between the steps may do to their height: what was taken for slope is thought to be as
/// large as what was left, and a slope over the span of rms p is sqrt(12) p high.
double pattern_of(const stair_fit& fit, const stair_course& course) {
    const auto found = fold(fit, course.clear_values);
    double sum = 0.0, power = 0.0, values = 0.0;
    for (std::size_t b = 0; b < found.mean.size(); ++b) {
        const double square = found.values[b] * found.mean[b] * found.mean[b];
        sum += square;
        power += square - (found.values[b] > 0.0 ? found.variance : 0.0);
        values += found.values[b];
    }
    const auto places = static_cast<double>(found.mean.size());
    if (sum <= most_of_noise(places, course.window_values) * found.variance) return 0.0;
    const double span = fit.at.period_values - 2.0 * course.clear_values;
    return std::sqrt(12.0 * std::max(0.0, power) / values) * fit.at.period_values / span;
}

/// The line's rate is good to a tenth of a step or two over the course. Its phase may be anywhere: the
/// tone's harmonics turn it where steps fall evenly into the tone's periods.
std::optional<likely_timing> timing_about(stair_course& course, stair_timing at) {
    // Exponentials of steps that are wrongly high would be made up for by a wrong rate.
    stair_heights heights = stair_heights::UnitX();
    const auto learn = [&] {
        const auto fits = fits_at(course, at);
        if (!fits) return false;
        course.noise = noise_along(course, fits->least());
        heights = fits->least().solution.segment<stair_height_terms>(stair_smooth_terms);
        return true;
    };
    for (const auto& turns :
         {search_turns{0.5, 0.2}, search_turns{0.125, 0.05}, search_turns{0.06, 0.025}}) {
        at = best_of(timings_about(course, at, turns, heights));
        if (!learn()) return std::nullopt;
    }
    const double near_turns = values_to_average / at.period_values;
    const double independent =
        course.length_values() / std::max(1.0, course.window_values / hann_noise_bandwidth);
    const auto found =
        mean_of(timings_about(course, at, {near_turns, near_turns}, heights), independent);
    at = found.at;
    if (!learn()) return std::nullopt;
    return found;
}

/// How much of a sudden step's first line this one has. An exponential of more than the step begins earlier
/// than the step was taken to, with 1 of it.
double line_share(const stair_fit& fit) {
    if (!surely_settles(fit)) return 1.0;
    const std::complex<double> turned{
        0.0, 2.0 * std::numbers::pi * fit.constant_values / fit.at.period_values};
    const double size = std::clamp(fit.solution[settling_term], -1.0, 1.0);
    return std::abs(1.0 - size * turned / (1.0 + turned));
}

/// Whether the stair has the line for which it was taken. A sine, too, looks like some stair between the
/// steps, but not like one with its own line.
bool has_line(const plateau_reading& reading, const stair_fit& fit, const zipper_reading& found) {
    const double apart = reading.step * line_share(fit) - found.step;
    return std::abs(apart) <= u_line_share * found.step + sure_deviations * found.u_step;
}

/// What the mean step changes by where a timing changes by this much.
double change_of_step(const stair_course& course, const stair_timing& about,
                      const stair_timing& change) {
    const auto at = [&](double sign) -> std::optional<double> {
        const stair_timing here{about.step_values + sign * change.step_values,
                                about.period_values + sign * change.period_values};
        const auto fits = fits_at(course, here);
        if (!fits) return std::nullopt;
        return mean_over_settling(*fits, mean_step_weights(course, here)).step;
    };
    const auto later = at(1.0), earlier = at(-1.0);
    return later && earlier ? 0.5 * (*later - *earlier) : 0.0;
}

outcome<plateau_reading> read_stair(const stair_course& course, const likely_timing& timing,
                                    const zipper_reading& found) {
    const auto& at = timing.at;
    const auto fits = fits_at(course, at);
    if (!fits) return refuse(refusal::no_fit);
    const auto weights = mean_step_weights(course, at);
    const auto mean = mean_over_settling(*fits, weights);
    if (mean.unsettled_share > largest_unsettled_share) return refuse(refusal::no_fit);
    const double rounded_off = mean.step - weights.dot(fits->sudden.solution);
    const auto& least = fits->least();
    const plateau_reading out{
        .step = std::abs(mean.step),
        .u_step = mean.u_noise,
        .u_settling = std::hypot(mean.u_settling, u_settled_share * rounded_off),
        .u_timing = std::hypot(change_of_step(course, at, {timing.u_step_values, 0.0}),
                               change_of_step(course, at, {0.0, timing.u_period_values})),
        .u_pattern = pattern_of(least, course)};
    if (out.u_pattern > largest_pattern_share * std::min(out.step, found.step) ||
        !has_line(out, least, found))
        return refuse(refusal::no_fit);
    return out;
}

}  // namespace

outcome<plateau_reading> steps_of_plateaus(std::span<const double> course, seconds spacing,
                                           seconds window, const zipper_reading& found) {
    if (!(spacing.value() > 0.0) || !(window.value() >= 0.0) || !(found.rate.value() > 0.0))
        return refuse(refusal::bad_argument);
    if (!all_finite(course)) return refuse(refusal::not_finite);
    const double window_values = window / spacing;
    stair_course seen{course, window_values, 0.5 * window_values + to_spare_values,
                      std::vector<double>(course.size(), 1.0)};
    const double period = 1.0 / (found.rate.value() * spacing.value());
    if (period - 2.0 * seen.clear_values < fewest_clear_values ||
        seen.length_values() < fewest_steps * period)
        return refuse(refusal::too_short);
    const double first = found.first_step / spacing;
    const auto at = timing_about(
        seen, {first + period * std::round((0.5 * seen.length_values() - first) / period), period});
    if (!at) return refuse(refusal::no_fit);
    return read_stair(seen, *at, found);
}

}  // namespace cvrig::analysis
