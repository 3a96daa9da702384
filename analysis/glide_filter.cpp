#include "analysis/glide_filter.hpp"

#include <Eigen/Eigenvalues>
#include <cmath>
#include <numbers>

namespace cvrig::analysis::gliding {

namespace {

using complex = std::complex<double>;

complex low_pass_below(const voice_filter& filter, complex s) {
    return 1.0 + s * (filter.a[0] + s * (filter.a[1] + s * (filter.a[2] + s * filter.a[3])));
}

}  // namespace

std::complex<double> voice_filter::response(double f_hz) const {
    const complex s{0.0, f_hz / reference_hz};
    return s / (s + std::exp(ln_h)) / low_pass_below(*this, s);
}

std::complex<double> voice_filter::low_pass(double f_hz) const {
    return 1.0 / low_pass_below(*this, {0.0, f_hz / reference_hz});
}

double voice_filter::delay_s(double f_hz) const {
    const complex s{0.0, f_hz / reference_hz};
    const complex slope = a[0] + s * (2 * a[1] + s * (3 * a[2] + s * (4 * a[3])));
    return (slope / low_pass_below(*this, s)).real() / (2 * std::numbers::pi * reference_hz);
}

voice_filter voice_filter::made_causal() const {
    // In z = 1/s the polynomial is monic, whatever its order: z^4 + a1 z^3 + a2 z^2 + a3 z + a4.
    Eigen::Matrix4d companion = Eigen::Matrix4d::Zero();
    for (Eigen::Index k = 0; k < 4; ++k) companion(0, k) = -a[static_cast<std::size_t>(k)];
    companion.diagonal(-1).setOnes();
    const Eigen::Vector4cd roots =
        Eigen::EigenSolver<Eigen::Matrix4d>{companion, false}.eigenvalues();
    std::array<complex, 5> product{1.0};
    for (Eigen::Index k = 0; k < 4; ++k) {
        const complex root{-std::abs(roots[k].real()), roots[k].imag()};
        for (std::size_t n = 4; n > 0; --n) product[n] -= root * product[n - 1];
    }
    voice_filter out = *this;
    for (std::size_t n = 0; n < 4; ++n) out.a[n] = product[n + 1].real();
    return out;
}

voice_filter::response_slope voice_filter::slope(double f_hz) const {
    const complex s{0.0, f_hz / reference_hz};
    const complex all = response(f_hz);
    const complex low = -all / low_pass_below(*this, s);
    const double h = std::exp(ln_h);
    return {-all * h / (s + h), low * s, low * s * s, low * s * s * s, low * s * s * s * s};
}

}  // namespace cvrig::analysis::gliding
