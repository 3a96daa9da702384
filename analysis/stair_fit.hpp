#pragma once

#include <Eigen/Dense>
#include <cmath>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

/// Least squares of a stair, for steps_of_plateaus. Times are counted in values of the course.
namespace cvrig::analysis {

/// Chebyshev polynomials of the smooth course and of the steps' height; and what each step has still to go
/// when it is over, against its height.
constexpr int stair_smooth_terms = 8, stair_height_terms = 3;
constexpr int stair_terms = stair_smooth_terms + stair_height_terms + 1;
using stair_heights = Eigen::Matrix<double, stair_height_terms, 1>;
using stair_parameters = Eigen::Matrix<double, stair_terms, 1>;
using stair_matrix = Eigen::Matrix<double, stair_terms, stair_terms>;

/// When the steps come.
struct stair_timing {
    double step_values;    ///< of one step near the middle of the course
    double period_values;  ///< from one to the next

    /// The last step at or before a time.
    [[nodiscard]] double before(double time_values) const noexcept {
        return step_values +
               period_values * std::floor((time_values - step_values) / period_values);
    }
};

/// A course in which each value is a mean under a Hann window; those with a step nearer than `clear_values`
/// are left out.
struct stair_course {
    std::span<const double> values;
    double window_values;
    double clear_values;
    std::vector<double> noise;  ///< deviation of each value against the rms of all

    [[nodiscard]] double length_values() const noexcept {
        return static_cast<double>(values.size());
    }
};

/// How steps come to rest: exponentially, with heights as a fit without this found them.
struct stair_settling {
    double constant_values;
    stair_heights heights;
};

/// A value that took part.
struct stair_rest {
    std::size_t index;
    double since_step_values, left_over;
};

struct stair_fit {
    stair_timing at{};
    double constant_values{0.0};  ///< of the settling; 0: none
    stair_parameters solution;
    stair_matrix inverse;     ///< of the normal equations
    stair_matrix covariance;  ///< where `variance` is 1; noise is correlated by windows
    double squares{0.0};      ///< sum of what is left over, squared
    double variance{0.0};     ///< of a value whose noise is as large as the rms of all, from that
    std::vector<stair_rest> rest;
};

/// What multiplies the parameters of a step's height, at a place from -1 to 1 over the course.
[[nodiscard]] stair_heights height_terms(double place);

/// What a timing leaves over, for each value that is not spent on a parameter.
[[nodiscard]] std::optional<double> stair_variance(const stair_course& course,
                                                   const stair_timing& at,
                                                   const std::optional<stair_settling>& settling);

/// The fit; nothing if too few values are left or they do not determine it.
[[nodiscard]] std::optional<stair_fit> fit_stair(const stair_course& course, const stair_timing& at,
                                                 const std::optional<stair_settling>& settling);

/// Deviation of each value's noise against the rms of all: brightness is the noisier the darker the tone.
///
/// Definition: rms of what is left over within a tenth of the course to either side.
[[nodiscard]] std::vector<double> noise_along(const stair_course& course, const stair_fit& fit);

}  // namespace cvrig::analysis
