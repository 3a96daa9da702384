#include "rig/checks/pattern_slides.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "analysis/robust_fit.hpp"

namespace cvrig {

namespace {

// What is left of a slide while it is read is this much too large or small where the time constant
// is 15 % off or the module 8 ms late; beyond it a slide is no slide as declared (a jump: -1).
constexpr double most_slide_excess = 0.5;
constexpr double least_u_slide_excess = 0.005;
constexpr double some_left_cents = 20.0;
constexpr std::size_t fewest_shares = 5;

// A step that slides makes one whole slide, one that jumps none: the middle between them.
constexpr double half_a_slide = 0.5;
// A filter that is struck again turns the phase by some thousandths of a cycle: 0.008 rms, from
// 670 slid and 475 tied steps of the demo module in each of two modes.
constexpr double u_turned_cycles = 0.008;
constexpr double u_late_share = 0.03;

}  // namespace

double left_cents(const pattern_step& step, const step_reading& heard, const pitch_law& law) {
    return law.per_volt(step.before - step.pitch).value() * heard.left_share;
}

slide_course common_slide_course(const pattern_part& part, std::span<const step_reading> heard,
                                 const pitch_law& law) {
    std::vector<double> left, off;  // in semitones, so that a fit's numbers are of order 1
    for (std::size_t i = 0; i < heard.size(); ++i) {
        if (part.steps[i].what != pattern_step::kind::slid || !heard[i].offset) continue;
        left.push_back(0.01 * left_cents(part.steps[i], heard[i], law));
        off.push_back(0.01 * heard[i].offset->value());
    }
    const auto line = analysis::fit_robust(left, off, 1);
    if (!line || std::abs(line->coefficients[1]) > most_slide_excess) return {};
    std::vector<double> shares;
    double squares = 0.0;
    for (std::size_t k = 0; k < left.size(); ++k) {
        squares += left[k] * left[k];
        if (std::abs(left[k]) > 0.01 * some_left_cents)
            shares.push_back(std::abs((off[k] - (*line)(left[k])) / left[k]));
    }
    if (shares.size() < fewest_shares) return {line->coefficients[1]};
    // Median absolute distance as a standard deviation, as in fit_robust().
    const double one = 1.4826 * analysis::median_of(std::move(shares));
    // A line of least absolute distances is worth 2 / pi of one of least squares.
    const double of_line = std::sqrt(0.5 * std::numbers::pi) * line->scatter / std::sqrt(squares);
    return {line->coefficients[1],
            std::clamp(std::hypot(one, of_line), least_u_slide_excess, most_u_slide_excess)};
}

std::optional<bool> slides_by_phase(const step_reading& heard) {
    if (!heard.slide) return std::nullopt;
    const double u =
        std::hypot(heard.slide->u_share, u_turned_cycles / heard.slide->whole_cycles, u_late_share);
    if (pattern_surely * u > half_a_slide) return std::nullopt;
    return heard.slide->share > half_a_slide;
}

}  // namespace cvrig
