#include "analysis/stair_fit.hpp"

#include <algorithm>
#include <numeric>
#include <utility>

#include "analysis/chebyshev.hpp"
#include "analysis/hann.hpp"

namespace cvrig::analysis {
namespace {

constexpr int settling_term = stair_terms - 1;
constexpr double fewest_spare_values = 4.0;

/// What multiplies each parameter at a time, for ascending times.
class stair_basis {
public:
    stair_basis(const stair_course& course, const stair_timing& at,
                const std::optional<stair_settling>& settling)
        : at_{at},
          length_values_{course.length_values()},
          settling_{settling},
          last_values_{at.before(0.0)} {
        if (!settling_) return;
        decay_ = std::exp(-at.period_values / settling_->constant_values);
        seen_ = hann_response_of_decay(course.window_values / settling_->constant_values);
        // Steps came before the course, too.
        to_go_ = settling_->heights.dot(height_terms(-1.0)) / (1.0 - decay_);
    }

    [[nodiscard]] stair_parameters at(double time_values) {
        while (last_values_ + at_.period_values <= time_values) take_step();
        stair_parameters out;
        const double x = chebyshev_place(time_values, length_values_);
        chebyshev(x, {out.data(), stair_smooth_terms});
        out.segment<stair_height_terms>(stair_smooth_terms) = taken_;
        out[settling_term] =
            settling_ ? -seen_ * to_go_ *
                            std::exp((last_values_ - time_values) / settling_->constant_values)
                      : 0.0;
        return out;
    }

private:
    void take_step() {
        last_values_ += at_.period_values;
        const auto here = height_terms(chebyshev_place(last_values_, length_values_));
        taken_ += here;
        if (settling_) to_go_ = to_go_ * decay_ + settling_->heights.dot(here);
    }

    stair_timing at_;
    double length_values_;
    std::optional<stair_settling> settling_;
    double last_values_;
    stair_heights taken_{stair_heights::Zero()};
    double decay_{0.0}, seen_{0.0}, to_go_{0.0};
};

/// The values that are clear of steps, with what multiplies the parameters there.
struct clear_rows {
    std::vector<stair_parameters> rows;
    std::vector<double> values;
    std::vector<stair_rest> rest;
    stair_matrix normal{stair_matrix::Zero()};
    stair_parameters right{stair_parameters::Zero()};
};

clear_rows rows_of(const stair_course& course, const stair_timing& at,
                   const std::optional<stair_settling>& settling) {
    stair_basis basis{course, at, settling};
    clear_rows out;
    for (std::size_t i = 0; i < course.values.size(); ++i) {
        const auto time_values = static_cast<double>(i);
        const auto row = basis.at(time_values);
        const double since = time_values - at.before(time_values);
        if (since < course.clear_values || at.period_values - since < course.clear_values) continue;
        out.rows.push_back(row);
        out.values.push_back(course.values[i]);
        out.rest.push_back({i, since, 0.0});
        out.normal.selfadjointView<Eigen::Lower>().rankUpdate(row);
        out.right += course.values[i] * row;
    }
    // Without settling its parameter is held at 0.
    if (!settling) out.normal(settling_term, settling_term) = 1.0;
    return out;
}

double parameters_of(const std::optional<stair_settling>& settling) {
    return static_cast<double>(settling ? stair_terms : stair_terms - 1);
}

bool has_enough(const clear_rows& clear, double parameters) {
    return static_cast<double>(clear.rows.size()) >= parameters + fewest_spare_values;
}

// Sum of x_i x_j^T times the covariance of the noise of values i and j.
stair_matrix covariance_sum(const stair_course& course, const clear_rows& clear) {
    stair_matrix out = stair_matrix::Zero();
    for (std::size_t i = 0; i < clear.rows.size(); ++i) {
        const double here = course.noise[clear.rest[i].index];
        stair_parameters near = 0.5 * here * clear.rows[i];
        for (std::size_t j = i + 1; j < clear.rows.size(); ++j) {
            const auto apart = static_cast<double>(clear.rest[j].index - clear.rest[i].index);
            if (apart >= course.window_values) break;
            near += course.noise[clear.rest[j].index] * hann_overlap(apart / course.window_values) *
                    clear.rows[j];
        }
        out += here * clear.rows[i] * near.transpose();
    }
    return out + out.transpose().eval();
}

}  // namespace

stair_heights height_terms(double place) {
    stair_heights out;
    chebyshev(place, {out.data(), stair_height_terms});
    return out;
}

std::optional<double> stair_variance(const stair_course& course, const stair_timing& at,
                                     const std::optional<stair_settling>& settling) {
    const auto clear = rows_of(course, at, settling);
    const double parameters = parameters_of(settling);
    if (!has_enough(clear, parameters)) return std::nullopt;
    const Eigen::LDLT<stair_matrix, Eigen::Lower> solver{clear.normal};
    if (solver.info() != Eigen::Success || !solver.isPositive()) return std::nullopt;
    const stair_parameters solution = solver.solve(clear.right);
    if (!solution.allFinite()) return std::nullopt;
    double squares = 0.0;
    for (const double v : clear.values) squares += v * v;
    return std::max(0.0, squares - clear.right.dot(solution)) /
           (static_cast<double>(clear.rows.size()) - parameters);
}

std::optional<stair_fit> fit_stair(const stair_course& course, const stair_timing& at,
                                   const std::optional<stair_settling>& settling) {
    auto clear = rows_of(course, at, settling);
    if (!has_enough(clear, parameters_of(settling))) return std::nullopt;
    const Eigen::LDLT<stair_matrix, Eigen::Lower> solver{clear.normal};
    if (solver.info() != Eigen::Success || !solver.isPositive()) return std::nullopt;
    stair_fit out;
    out.at = at;
    out.constant_values = settling ? settling->constant_values : 0.0;
    out.solution = solver.solve(clear.right);
    out.inverse = solver.solve(stair_matrix::Identity());
    if (!out.solution.allFinite() || !out.inverse.allFinite()) return std::nullopt;
    for (std::size_t i = 0; i < clear.rows.size(); ++i) {
        clear.rest[i].left_over = clear.values[i] - clear.rows[i].dot(out.solution);
        out.squares += clear.rest[i].left_over * clear.rest[i].left_over;
    }
    const stair_matrix shared = covariance_sum(course, clear);
    out.covariance = out.inverse * shared * out.inverse;
    // The fit takes the more of noise the more its values have in common.
    double free = -(out.inverse * shared).trace();
    for (const auto& one : clear.rest) free += std::pow(course.noise[one.index], 2);
    if (!(free > 0.0)) return std::nullopt;
    out.variance = out.squares / free;
    out.rest = std::move(clear.rest);
    return out;
}

std::vector<double> noise_along(const stair_course& course, const stair_fit& fit) {
    constexpr double least = 0.05;
    const std::size_t n = course.values.size();
    std::vector<double> squares(n + 1), counts(n + 1);
    for (const auto& one : fit.rest) {
        squares[one.index + 1] = one.left_over * one.left_over;
        counts[one.index + 1] = 1.0;
    }
    std::partial_sum(squares.begin(), squares.end(), squares.begin());
    std::partial_sum(counts.begin(), counts.end(), counts.begin());
    std::vector<double> out(n, 1.0);
    if (!(squares[n] > 0.0)) return out;
    const double mean = squares[n] / counts[n];
    for (std::size_t i = 0; i < n; ++i) {
        const std::size_t from = i - std::min(i, n / 10);
        const std::size_t to = std::min(n, i + n / 10 + 1);
        const double here = squares[to] - squares[from];
        const double count = counts[to] - counts[from];
        if (count > 0.0) out[i] = std::max(least, std::sqrt(here / count / mean));
    }
    return out;
}

}  // namespace cvrig::analysis
