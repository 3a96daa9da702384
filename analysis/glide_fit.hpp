#pragma once

#include <Eigen/Core>

#include "analysis/glide_model.hpp"
#include "analysis/glide_start.hpp"

namespace cvrig::analysis::gliding {

/// A finished fit of one voice model to one band record.
struct voice_fit {
    voice_state state;
    Eigen::VectorXd weights;   ///< of the columns
    Eigen::VectorXd residual;  ///< rows, volts
    Eigen::MatrixXd slope;     ///< rows x places: derivatives without what the columns can follow
    Eigen::Index columns{0};
    double rss{0.0};
    double signal_rms{0.0};  ///< of the harmonics, volts
    bool settled{false};     ///< the last step changed nothing that matters

    /// Independent values: a row counts less where the band ends below half the rate.
    double independent{0.0};
    [[nodiscard]] double freedom() const {
        return std::max(1.0, independent - static_cast<double>(columns + state.places()));
    }
    [[nodiscard]] double variance() const { return rss / freedom(); }
};

/// Standard uncertainties of the law's parameters.
struct law_uncertainty {
    std::array<double, law_places> u{};
};

/// Linear least squares of all weights, damped Gauss-Newton steps of everything else.
///
/// Source: variable projection (Golub, Pereyra 1973) with Kaufman's Jacobian (1975); damping after
///         Marquardt (1963). Each parameter's step is limited by itself, since one loose parameter
///         must not stop the others.
[[nodiscard]] voice_fit fit_voice(voice_model& model, const Eigen::VectorXd& volts,
                                  const voice_state& from, const law_prior& prior, int most_rounds);

/// Power that the best weights leave, without any step.
[[nodiscard]] double residual_power(voice_model& model, const Eigen::VectorXd& volts,
                                    const voice_state& state);

/// From the curvature (white residuals) and from 10 ms blocks of the gradient (a sandwich, which
/// sees coloured residuals); the larger of the two, with what is known beforehand.
[[nodiscard]] law_uncertainty uncertainty_of(const voice_fit& fit, const fit_window& window,
                                             const law_prior& prior);

}  // namespace cvrig::analysis::gliding
