#pragma once

#include <Eigen/Dense>
#include <vector>

#include "analysis/harmonic_basis.hpp"

namespace cvrig::analysis {

/// A change of all parameters of the model, or a gradient with respect to them. The complex parts
/// hold (d/d Re, d/d Im) of each amplitude; the offset uses the real part only.
struct tone_step {
    line_values amplitudes;
    double pitch{0};
    double decay{0};
    double mains{0};
};

/// The parts of the model that a step of its parameters moves.
struct tone_columns {
    model_column tone;   ///< the harmonics and foreign lines themselves
    model_column pitch;  ///< derivative with respect to the pitch, over u
};

[[nodiscard]] tone_columns columns_of(const harmonic_basis& basis, const line_values& amplitudes);

/// Prior knowledge as extra squares: precision times the residual variance.
struct tone_priors {
    double hum_amplitude{0};
    double mains{0};
    double decay{0};
};

/// The normal equations of one Gauss-Newton step: dense for the offset, hum, pitch, decay and the
/// lowest `dense_harmonics`; each higher harmonic is taken as orthogonal to all but pitch and
/// decay.
class tone_hessian {
public:
    tone_hessian(const harmonic_basis& basis, const tone_columns& columns,
                 const tone_priors& priors, std::size_t dense_harmonics);

    [[nodiscard]] tone_step solve(const tone_step& gradient) const;
    /// Element (pitch, pitch) of the inverse: variance of the pitch at unit noise variance.
    [[nodiscard]] double pitch_variance() const;

private:
    using pair = Eigen::Vector2d;
    struct tail_harmonic {
        Eigen::Matrix2d inverse;
        Eigen::Matrix2d coupling;  // rows: Re, Im; columns: pitch, decay
    };
    void fill_nonlinear(const harmonic_basis& basis, const tone_columns& columns);
    void fill_mains(const harmonic_basis& basis, const tone_columns& columns);
    void fill_coupling(Eigen::Index row, const line_values& correlation);
    void fill_amplitudes(const harmonic_basis& basis);
    void fold_tail();
    [[nodiscard]] Eigen::Index place(std::size_t foreign) const;
    [[nodiscard]] Eigen::Index place_of_harmonic(std::size_t index) const;

    std::size_t foreign_;
    std::size_t dense_;
    std::size_t harmonics_;
    Eigen::MatrixXd core_;
    std::vector<tail_harmonic> tail_;
    Eigen::LLT<Eigen::MatrixXd> factor_;
};

}  // namespace cvrig::analysis
