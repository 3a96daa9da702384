#pragma once

#include <Eigen/Core>
#include <array>
#include <complex>

namespace cvrig::analysis::gliding {

/// A fixed filter behind the oscillator: a one-pole high-pass and an all-pole low-pass of order 4,
/// H(s) = s / (s + h) / (1 + a1 s + a2 s^2 + a3 s^3 + a4 s^4), s = j f / f_ref.
///
/// Ladders with feedback, two-pole filters and unequal poles are all of this form; its
/// coefficients enter smoothly where pole frequencies and resonances would not.
struct voice_filter {
    double reference_hz{1.0};
    double ln_h{-3.0};
    std::array<double, 4> a{};

    static constexpr Eigen::Index places = 5;  ///< ln h, a1 ... a4
    using response_slope = std::array<std::complex<double>, places>;

    [[nodiscard]] std::complex<double> response(double f_hz) const;
    [[nodiscard]] std::complex<double> low_pass(double f_hz) const;
    /// Delay of the low-pass in seconds: the slope of its phase.
    [[nodiscard]] double delay_s(double f_hz) const;
    /// The causal filter of the same magnitude: poles on the wrong side are mirrored.
    [[nodiscard]] voice_filter made_causal() const;
    /// Derivatives of the response by ln h, a1 ... a4.
    [[nodiscard]] response_slope slope(double f_hz) const;
};

}  // namespace cvrig::analysis::gliding
