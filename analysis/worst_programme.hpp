#pragma once

#include <Eigen/Dense>
#include <optional>
#include <vector>

/// The linear programme behind fits of least worst departure.
namespace cvrig::analysis {

/// Makes the largest |y_i - a_i c| of the free rows least, while a_f c = y_f on the pinned rows.
struct worst_programme {
    Eigen::MatrixXd free_rows;
    Eigen::VectorXd free_y;
    Eigen::MatrixXd pinned_rows;
    Eigen::VectorXd pinned_y;
};

/// Which free rows are at the worst departure in every solution, and on which side.
struct worst_points {
    std::vector<Eigen::Index> rows;
    std::vector<int> signs;  ///< of y - a c
};

/// Solves the dual programme: maximise sum (p_i - q_i) y_i + sum w_f y_f under sum (p_i - q_i) a_i
/// + sum w_f a_f = 0, sum (p_i + q_i) = 1, p and q not negative. A row with p or q above 0 is at
/// the worst departure in all solutions (complementary slackness).
///
/// Input:      y scaled so that the worst departure is about 1. Nothing if Clp finds no optimum.
[[nodiscard]] std::optional<worst_points> solve(const worst_programme& programme);

}  // namespace cvrig::analysis
