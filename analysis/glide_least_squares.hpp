#pragma once

#include <Eigen/Cholesky>
#include <Eigen/Core>

namespace cvrig::analysis::gliding {

/// Least squares by the normal equations of scaled columns, with one refinement; the ridge is far
/// below the noise and only keeps columns apart that are alike. Columns that are next to nothing
/// get no weight.
class linear_part {
public:
    explicit linear_part(const Eigen::MatrixXd& columns);
    [[nodiscard]] Eigen::MatrixXd solve(const Eigen::MatrixXd& right) const;

private:
    [[nodiscard]] Eigen::MatrixXd once(const Eigen::MatrixXd& right) const;

    const Eigen::MatrixXd& columns_;
    Eigen::VectorXd scale_;
    Eigen::LLT<Eigen::MatrixXd, Eigen::Lower> factor_;
};

}  // namespace cvrig::analysis::gliding
