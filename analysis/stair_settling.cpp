#include "analysis/stair_settling.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace cvrig::analysis {
namespace {

constexpr int settling_term = stair_terms - 1;
constexpr double shortest_values = 0.25, ratio = 1.4142;
// Longer ones are no rounding: either steps are not over when the next one comes, or what is so small and
// slow is something else.
constexpr double longest_periods = 0.2, longest_looked_for_periods = 0.5;
// So much of its height may a step have to go when the next one comes.
constexpr double most_to_go = 0.01;
constexpr double likely_size = 0.8, u_likely_size = 0.5;
constexpr double sure_deviations = 3.0;
constexpr double smallest = 1e-300;

stair_heights heights_of(const stair_fit& fit) {
    return fit.solution.segment<stair_height_terms>(stair_smooth_terms);
}

std::vector<stair_fit> settling_fits(const stair_course& course, const stair_fit& other) {
    std::vector<stair_fit> out;
    const double longest = longest_looked_for_periods * other.at.period_values;
    for (double constant = shortest_values; constant <= longest; constant *= ratio)
        if (auto one = fit_stair(
                course, other.at,
                stair_settling{.constant_values = constant, .heights = heights_of(other)}))
            out.push_back(std::move(*one));
    return out;
}

/// The mean step if steps settle in one way.
struct settled_step {
    double step, noise_variance, settling_variance;
    double evidence;  ///< natural logarithm of how likely this and the course are together
};

// Values that share their noise tell as much as so many times fewer.
double evidence_of_rest(const stair_fit& fit, const stair_fit& least) {
    const double shared = least.covariance(settling_term, settling_term) /
                          least.inverse(settling_term, settling_term);
    return -0.5 * fit.squares / std::max(least.variance * shared, smallest);
}

settled_step sudden_step(const stair_fit& fit, const stair_parameters& mean_step,
                         const stair_fit& least) {
    return {mean_step.dot(fit.solution), least.variance * mean_step.dot(fit.covariance * mean_step),
            0.0, evidence_of_rest(fit, least)};
}

settled_step rounded_step(const stair_fit& fit, const stair_parameters& mean_step,
                          const stair_fit& least) {
    const double size = fit.solution[settling_term];
    const double variance = least.variance * fit.covariance(settling_term, settling_term);
    // The mean step where the exponential's size is held: it goes with that by `slope`.
    const double slope =
        fit.inverse.row(settling_term).dot(mean_step) / fit.inverse(settling_term, settling_term);
    stair_parameters held = mean_step;
    held[settling_term] = -slope;
    const double likely_variance = u_likely_size * u_likely_size;
    const double kept = likely_variance / (likely_variance + variance);
    const double mean_size = likely_size + kept * (size - likely_size);
    const double off = size - likely_size;
    return {held.dot(fit.solution) + slope * mean_size,
            least.variance * held.dot(fit.covariance * held), slope * slope * variance * kept,
            evidence_of_rest(fit, least) + 0.5 * (std::log(std::max(1.0 - kept, smallest)) -
                                                  off * off / (likely_variance + variance))};
}

/// How much of its height a step, with all before it, has still to go when the next one comes.
double to_go(const stair_fit& fit) {
    const double left = std::exp(-fit.at.period_values / fit.constant_values);
    return std::abs(fit.solution[settling_term]) * left / (1.0 - left);
}

/// The mean of several, weighed by their evidence.
class weighed_mean {
public:
    explicit weighed_mean(double highest_evidence) : highest_{highest_evidence} {}

    double add(const settled_step& one, double odds) {
        const double w = odds * std::exp(one.evidence - highest_);
        weights_ += w;
        step_ += w * one.step;
        square_ += w * one.step * one.step;
        noise_ += w * one.noise_variance;
        settling_ += w * one.settling_variance;
        return w;
    }

    [[nodiscard]] settled_mean mean(double unsettled) const {
        const double step = step_ / weights_;
        const double between = std::max(0.0, square_ / weights_ - step * step);
        return {.step = step,
                .u_noise = std::sqrt(std::max(0.0, noise_ / weights_)),
                .u_settling = std::sqrt(std::max(0.0, settling_ / weights_ + between)),
                .unsettled_share = unsettled / (weights_ + unsettled)};
    }

private:
    double highest_;
    double weights_{0.0}, step_{0.0}, square_{0.0}, noise_{0.0}, settling_{0.0};
};

}  // namespace

const stair_fit& stair_fits::least() const {
    return *std::ranges::min_element(settling, {}, &stair_fit::variance);
}

std::optional<stair_fits> fits_at(const stair_course& course, const stair_timing& at) {
    auto sudden = fit_stair(course, at, std::nullopt);
    if (!sudden) return std::nullopt;
    stair_fits out{std::move(*sudden), {}};
    out.settling = settling_fits(course, out.sudden);
    if (out.settling.empty()) return std::nullopt;
    // Rounded steps look lower at first, and an exponential larger against them: hence twice.
    out.settling = settling_fits(course, out.least());
    if (out.settling.empty()) return std::nullopt;
    return out;
}

bool surely_settles(const stair_fit& fit) {
    return std::abs(fit.solution[settling_term]) >
           sure_deviations * std::sqrt(fit.variance * fit.covariance(settling_term, settling_term));
}

settled_mean mean_over_settling(const stair_fits& fits, const stair_parameters& mean_step) {
    const auto& least = fits.least();
    const auto sudden = sudden_step(fits.sudden, mean_step, least);
    std::vector<settled_step> rounded;
    double highest = sudden.evidence;
    for (const auto& fit : fits.settling) {
        rounded.push_back(rounded_step(fit, mean_step, least));
        highest = std::max(highest, rounded.back().evidence);
    }
    weighed_mean sum{highest}, unsettled{highest};
    const double odds = 1.0 / static_cast<double>(rounded.size());
    double unsettled_weight = 0.0;
    sum.add(sudden, 1.0);
    for (std::size_t i = 0; i < rounded.size(); ++i) {
        const auto& fit = fits.settling[i];
        if (fit.constant_values <= longest_periods * fit.at.period_values)
            sum.add(rounded[i], odds);
        else if (to_go(fit) > most_to_go && surely_settles(fit))
            unsettled_weight += unsettled.add(rounded[i], odds);
    }
    return sum.mean(unsettled_weight);
}

}  // namespace cvrig::analysis
