#pragma once

#include <Eigen/Dense>
#include <span>

#include "analysis/variance_components.hpp"

/// Restricted likelihood of units crossed with builds, from sums over the cells.
namespace cvrig::analysis {

/// Deviations of units, builds and the rest, in the unit of the observations.
struct crossed_deviations {
    double unit{0.0}, build{0.0}, rest{0.0};
};

class crossed_likelihood {
public:
    crossed_likelihood(std::span<const crossed_observation> observed, std::size_t units,
                       std::size_t builds);

    /// True if each unit and each build was observed.
    [[nodiscard]] bool is_complete() const;
    /// True if unit, build and rest have different patterns of covariance.
    [[nodiscard]] bool can_tell_apart() const;
    /// Observations less the rank of units and builds as fixed effects.
    [[nodiscard]] Eigen::Index freedom() const { return freedom_; }
    /// Sum of squares that no unit and no build explains, over that about the mean.
    [[nodiscard]] double unexplained_share() const { return unexplained_share_; }
    /// Root mean square about the mean of all.
    [[nodiscard]] double spread() const;

    /// -2 ln of the restricted likelihood, but for a constant; the rest's deviation at its best for
    /// deviations of unit and build that are given as multiples of it.
    [[nodiscard]] double criterion(double unit_ratio, double build_ratio) const;
    /// The same with all three given.
    [[nodiscard]] double criterion(const crossed_deviations& d) const;
    [[nodiscard]] double best_rest(double unit_ratio, double build_ratio) const;

    /// Mean, effects and their uncertainties, into `out`.
    void predict(const crossed_deviations& d, crossed_components& out) const;

private:
    struct parts {
        double log_determinant{0.0};  ///< of the covariance over rest^2, and of the mean's weight
        double weight{0.0};           ///< 1' V^-1 1 * rest^2
        double squares{0.0};          ///< residual' V^-1 residual * rest^2
        double mean{0.0};
    };
    [[nodiscard]] parts evaluate(double unit_ratio, double build_ratio) const;
    void explain();

    Eigen::MatrixXd counts_;  // unit by build
    Eigen::VectorXd unit_counts_, build_counts_, unit_sums_, build_sums_;
    double observations_{0.0}, squares_{0.0}, centre_{0.0};
    Eigen::Index freedom_{0};
    double unexplained_share_{0.0};
};

}  // namespace cvrig::analysis
