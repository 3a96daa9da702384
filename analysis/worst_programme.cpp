#include "analysis/worst_programme.hpp"

#include <ClpSimplex.hpp>
#include <CoinPackedMatrix.hpp>
#include <CoinPackedVector.hpp>
#include <cmath>

namespace cvrig::analysis {
namespace {

constexpr double nothing = 1e-10;  // of a multiplier; those of one level add up to 1

/// The columns of the dual programme, one after the other: its rows are the coefficients of the
/// fit, then the sum of the multipliers.
class dual_columns {
public:
    explicit dual_columns(Eigen::Index coefficients)
        : matrix_{true, 0.0, 0.0}, sum_row_{static_cast<int>(coefficients)} {
        matrix_.setDimensions(sum_row_ + 1, 0);
    }

    void add(const Eigen::RowVectorXd& a, double sign, double y, bool pinned) {
        CoinPackedVector column;
        for (Eigen::Index j = 0; j < a.size(); ++j)
            if (a[j] != 0.0) column.insert(static_cast<int>(j), sign * a[j]);
        if (!pinned) column.insert(sum_row_, 1.0);
        matrix_.appendCol(column);
        gain_.push_back(sign * y);
        lower_.push_back(pinned ? -COIN_DBL_MAX : 0.0);
    }

    void load(ClpSimplex& model) const {
        const std::vector<double> upper(gain_.size(), COIN_DBL_MAX);
        std::vector<double> balance(static_cast<std::size_t>(sum_row_) + 1, 0.0);
        balance.back() = 1.0;
        model.loadProblem(matrix_, lower_.data(), upper.data(), gain_.data(), balance.data(),
                          balance.data());
    }

private:
    CoinPackedMatrix matrix_;
    int sum_row_;
    std::vector<double> gain_, lower_;
};

}  // namespace

std::optional<worst_points> solve(const worst_programme& p) {
    dual_columns columns{p.free_rows.cols()};
    for (Eigen::Index i = 0; i < p.free_rows.rows(); ++i) {
        columns.add(p.free_rows.row(i), 1.0, p.free_y[i], false);
        columns.add(p.free_rows.row(i), -1.0, p.free_y[i], false);
    }
    for (Eigen::Index i = 0; i < p.pinned_rows.rows(); ++i)
        columns.add(p.pinned_rows.row(i), 1.0, p.pinned_y[i], true);

    ClpSimplex model;
    model.setLogLevel(0);
    model.setOptimizationDirection(-1.0);
    model.setDualTolerance(1e-10);
    model.setPrimalTolerance(1e-10);
    columns.load(model);
    model.primal();
    if (!model.isProvenOptimal()) return std::nullopt;

    worst_points out;
    const double* multiplier = model.getColSolution();
    for (Eigen::Index i = 0; i < p.free_rows.rows(); ++i) {
        const double side = multiplier[2 * i] - multiplier[2 * i + 1];
        if (std::abs(side) <= nothing) continue;
        out.rows.push_back(i);
        out.signs.push_back(side > 0.0 ? 1 : -1);
    }
    return out;
}

}  // namespace cvrig::analysis
