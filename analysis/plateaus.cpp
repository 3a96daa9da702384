#include "analysis/plateaus.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <vector>

#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr double pi = std::numbers::pi;
constexpr int smooth_terms = 8, height_terms = 3;
constexpr int terms = smooth_terms + height_terms;
constexpr double fewest_steps = 8.0;

using parameters = Eigen::Matrix<double, terms, 1>;
using normal_matrix = Eigen::Matrix<double, terms, terms>;

/// When the steps come, counted in values.
struct timing {
    double near_middle;  ///< of one step near the middle of the course
    double period;

    [[nodiscard]] double before(double value) const noexcept {
        return near_middle + period * std::floor((value - near_middle) / period);
    }
};

struct stair {
    parameters solution;
    normal_matrix covariance;
    double variance{INFINITY};  ///< of what it leaves over
    timing at;
};

/// -1 to 1 over the course, which keeps powers of it of like size.
double scaled(double value, double length) {
    return 2.0 * value / (length - 1.0) - 1.0;
}

/// Chebyshev polynomials of the smooth course, and the sums of x^j over all steps so far.
class basis {
public:
    basis(const timing& at, double length) : at_{at}, length_{length}, next_{at.before(0.0)} {
        next_ += at.period;
    }

    /// For ascending values.
    [[nodiscard]] parameters at(double value) {
        for (; next_ <= value; next_ += at_.period) {
            const double x = scaled(next_, length_);
            taken_ += Eigen::Vector3d{1.0, x, x * x};
        }
        parameters out;
        const double x = scaled(value, length_);
        out[0] = 1.0;
        out[1] = x;
        for (int j = 2; j < smooth_terms; ++j) out[j] = 2.0 * x * out[j - 1] - out[j - 2];
        out.tail<height_terms>() = taken_;
        return out;
    }

private:
    timing at_;
    double length_;
    double next_;
    Eigen::Vector3d taken_{Eigen::Vector3d::Zero()};
};

std::optional<stair> fitted(std::span<const double> course, const timing& at, double clear_values) {
    const auto length = static_cast<double>(course.size());
    basis of{at, length};
    normal_matrix normal = normal_matrix::Zero();
    parameters right = parameters::Zero();
    double squares = 0.0;
    double count = 0.0;
    for (std::size_t i = 0; i < course.size(); ++i) {
        const auto value = static_cast<double>(i);
        const auto row = of.at(value);
        const double since = value - at.before(value);
        if (since < clear_values || at.period - since < clear_values) continue;
        normal.selfadjointView<Eigen::Lower>().rankUpdate(row);
        right += course[i] * row;
        squares += course[i] * course[i];
        count += 1.0;
    }
    if (count < terms + 4.0) return std::nullopt;
    const Eigen::LDLT<normal_matrix, Eigen::Lower> solver{normal};
    if (solver.info() != Eigen::Success || !solver.isPositive()) return std::nullopt;
    stair out{.solution = solver.solve(right), .covariance = {}, .variance = 0.0, .at = at};
    if (!out.solution.allFinite()) return std::nullopt;
    out.variance = std::max(0.0, squares - right.dot(out.solution)) / (count - terms);
    out.covariance = solver.solve(normal_matrix::Identity());
    return out;
}

/// The best of a few timings about one, `turns` of a step to either side at the middle of the course
/// and at its ends.
std::optional<stair> best_about(std::span<const double> course, const timing& about,
                                double clear_values, double turns) {
    constexpr int to_a_side = 4;
    const double steps = static_cast<double>(course.size()) / about.period;
    std::optional<stair> best;
    for (int i = -to_a_side; i <= to_a_side; ++i)
        for (int k = -to_a_side; k <= to_a_side; ++k) {
            const timing here{about.near_middle + turns * k / to_a_side * about.period,
                              about.period * (1.0 + 2.0 * turns * i / to_a_side / steps)};
            auto one = fitted(course, here, clear_values);
            if (one && (!best || one->variance < best->variance)) best = std::move(one);
        }
    return best;
}

double hann_at(double value, double length) {
    return 1.0 - std::cos(2.0 * pi * std::clamp((value + 0.5) / length, 0.0, 1.0));
}

plateau_reading mean_step(const stair& found, double length, double window_values) {
    Eigen::Vector3d weighed = Eigen::Vector3d::Zero();
    double weights = 0.0;
    for (double t = found.at.before(0.0) + found.at.period; t < length; t += found.at.period) {
        const double w = hann_at(t, length);
        const double x = scaled(t, length);
        weighed += w * Eigen::Vector3d{1.0, x, x * x};
        weights += w;
    }
    weighed /= weights;
    const auto heights = found.solution.tail<height_terms>();
    const auto covariance = found.covariance.bottomRightCorner<height_terms, height_terms>();
    // Windows that overlap share their noise: of a Hann window, over 1 / 1.5 of its length (its equivalent
    // noise bandwidth: F. J. Harris 1978).
    const double variance =
        found.variance * weighed.dot(covariance * weighed) * std::max(1.0, window_values / 1.5);
    return {std::abs(weighed.dot(heights)), std::sqrt(std::max(0.0, variance)),
            std::sqrt(found.variance)};
}

}  // namespace

outcome<plateau_reading> steps_of_plateaus(std::span<const double> course, seconds spacing,
                                           seconds window, const zipper_reading& found) {
    if (!(spacing.value() > 0.0) || !(window.value() >= 0.0) || !(found.rate.value() > 0.0))
        return refuse(refusal::bad_argument);
    if (!all_finite(course)) return refuse(refusal::not_finite);
    constexpr double to_spare_values = 0.5, two_values = 2.0;
    const double period = 1.0 / (found.rate.value() * spacing.value());
    const double clear_values = 0.5 * (window / spacing) + to_spare_values;
    const auto length = static_cast<double>(course.size());
    if (period - 2.0 * clear_values < two_values || length < fewest_steps * period)
        return refuse(refusal::too_short);
    const double first = found.first_step / spacing;
    const timing about{first + period * std::round((0.5 * length - first) / period), period};
    // The line's phase is good to a tenth of a step or two, its rate to as much over the course.
    auto best = best_about(course, about, clear_values, 0.2);
    if (best) best = best_about(course, best->at, clear_values, 0.05);
    if (best) best = best_about(course, best->at, clear_values, 0.0125);
    if (!best) return refuse(refusal::no_fit);
    return mean_step(*best, length, window / spacing);
}

}  // namespace cvrig::analysis
