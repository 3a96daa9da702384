#pragma once

#include <Eigen/Dense>
#include <cstddef>
#include <optional>
#include <vector>

#include "analysis/minimax_fit.hpp"

/// Finds the points that hold a fit of least worst departure, level by level.
namespace cvrig::analysis {

/// The strict approximation of y by the columns of `rows`, and the linear system that gives it.
struct strict_minimax {
    std::vector<touching_point> touching;
    /// For each point, the last level at which it was still free to touch.
    std::vector<std::size_t> last_level;
    std::size_t levels{0};     ///< with a departure of their own
    Eigen::VectorXd solution;  ///< coefficients, then the departure of each level
    Eigen::MatrixXd inverse;   ///< solution = inverse * y of the touching points

    /// Largest departure that level lets a point have; 0 where the fit goes through the points.
    [[nodiscard]] double departure(std::size_t level) const {
        return level < levels
                   ? solution[solution.size() - static_cast<Eigen::Index>(levels - level)]
                   : 0.0;
    }
};

/// Input:      independent columns of about equal size, no row of zeros; y of which the largest
///             least-squares residual is 1, or all y 0. Nothing if the linear programme fails.
[[nodiscard]] std::optional<strict_minimax> find_strict_minimax(const Eigen::MatrixXd& rows,
                                                                const Eigen::VectorXd& y);

}  // namespace cvrig::analysis
