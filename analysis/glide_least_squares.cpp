#include "analysis/glide_least_squares.hpp"

namespace cvrig::analysis::gliding {

using Eigen::Index;
using Eigen::MatrixXd;

linear_part::linear_part(const MatrixXd& columns) : columns_{columns} {
    const Index n = columns.cols();
    scale_ = columns.colwise().norm().transpose();
    const double largest = scale_.maxCoeff();
    for (Index i = 0; i < n; ++i) scale_[i] = scale_[i] > 1e-7 * largest ? 1 / scale_[i] : 0.0;
    MatrixXd gram = MatrixXd::Zero(n, n);
    gram.selfadjointView<Eigen::Lower>().rankUpdate(columns.transpose());
    gram = scale_.asDiagonal() * gram * scale_.asDiagonal();
    gram.diagonal().array() += 1e-11;
    for (Index i = 0; i < n; ++i)
        if (scale_[i] == 0.0) gram(i, i) = 1.0;
    factor_.compute(gram);
}

MatrixXd linear_part::solve(const MatrixXd& right) const {
    const MatrixXd first = once(right);
    return first + once(right - columns_ * first);
}

MatrixXd linear_part::once(const MatrixXd& right) const {
    const MatrixXd projected = scale_.asDiagonal() * (columns_.transpose() * right);
    return scale_.asDiagonal() * factor_.solve(projected);
}

}  // namespace cvrig::analysis::gliding
