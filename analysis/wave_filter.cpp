#include "analysis/wave_filter.hpp"

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace cvrig::analysis {

namespace {

constexpr double pi = std::numbers::pi;
using three = Eigen::Vector3d;

/// Weighted least squares with three parameters.
class small_fit {
public:
    void add(const three& basis, double y, double w) {
        normal_ += w * basis * basis.transpose();
        right_ += w * y * basis;
    }
    [[nodiscard]] three solution() const { return normal_.ldlt().solve(right_); }
    /// With weights of 1 / variance.
    [[nodiscard]] Eigen::Matrix3d covariance() const {
        return normal_.ldlt().solve(Eigen::Matrix3d::Identity());
    }

private:
    Eigen::Matrix3d normal_{Eigen::Matrix3d::Zero()};
    three right_{three::Zero()};
};

// Harmonic numbers are scaled by the highest, so that no power of them is large.
three magnitude_basis(double k, double highest) {
    const double z = k / highest * (k / highest);
    return {1.0, z, z * z};
}

three phase_basis(double k, double highest) {
    const double z = k / highest;
    return {z, 1.0 / k, z * z * z};
}

/// Phase of each odd harmonic beyond that of sin(k x), x from the fundamental, followed from one
/// to the next.
std::vector<double> phases_beyond_sine(std::span<const std::complex<double>> heard) {
    const double turn = std::arg(heard[0]) + pi / 2.0;
    std::vector<double> out;
    double before = 0.0;
    double slope = 0.0;
    for (std::size_t i = 0; i < heard.size(); i += 2) {
        const double raw = std::arg(heard[i]) + pi / 2.0 - static_cast<double>(i + 1) * turn;
        const double expected = before + slope;
        const double now = expected + std::remainder(raw - expected, 2.0 * pi);
        slope = i == 0 ? 0.0 : now - before;
        before = now;
        out.push_back(now);
    }
    return out;
}

/// How far the odd harmonics depart from the fitted filter beyond noise.
struct misfit {
    double birge_ratio{1.0};  ///< of their levels
    double of_mean_level{0.0};
    double power{0.0};
};

misfit misfit_of(std::span<const std::complex<double>> heard,
                 std::span<const std::complex<double>> saw, std::span<const double> noise) {
    const double count = std::ceil(static_cast<double>(heard.size()) / 2.0);
    const double freedom = count - 3.0;  // of the levels, and as many of the phases
    double of_levels = 0.0, of_phases = 0.0, level = 0.0, power = 0.0, weights = 0.0;
    for (std::size_t i = 0; i < heard.size(); i += 2) {
        const double u = std::max(noise[i], 1e-12) / std::abs(saw[i]);
        const auto off = heard[i] / saw[i] - 1.0;
        const double u2_left = u * u * freedom / count;
        const auto k = static_cast<double>(i + 1);
        const double w = 1.0 / (k * k);
        of_levels += off.real() * off.real() / (u * u);
        of_phases += off.imag() * off.imag() / (u * u);
        level += w * w * (off.real() * off.real() - u2_left);
        power += w * (std::norm(off) - 2.0 * u2_left);
        weights += w;
    }
    // Noise alone hardly ever doubles it (3 % of the time with eight degrees of freedom).
    if (of_levels + of_phases <= 4.0 * freedom) return {};
    return {.birge_ratio = std::sqrt(std::max(1.0, of_levels / freedom)),
            .of_mean_level = std::sqrt(std::max(0.0, level)) / weights,
            .power = std::max(0.0, power / weights)};
}

}  // namespace

outcome<wave_filter> fit_wave_filter(std::span<const std::complex<double>> heard,
                                     std::span<const double> noise) {
    const auto highest = static_cast<double>(heard.size());
    const auto phases = phases_beyond_sine(heard);
    double mean_noise = 1e-24;
    for (const double u : noise) mean_noise += u * u / highest;
    small_fit magnitude;
    small_fit phase;
    for (std::size_t i = 0; i < heard.size(); i += 2) {
        const auto k = static_cast<double>(i + 1);
        if (std::abs(heard[i]) <= 0.0) return refuse(refusal::silent);
        // The variance of ln |a| and of the phase; a harmonic that is all but missing says nothing.
        const double w = std::norm(heard[i]) / mean_noise;
        magnitude.add(magnitude_basis(k, highest), std::log(k * std::abs(heard[i])), w);
        phase.add(phase_basis(k, highest), phases[i / 2], w);
    }
    const three level = magnitude.solution();
    const three turn = phase.solution();
    if (!level.allFinite() || !turn.allFinite()) return refuse(refusal::no_fit);

    wave_filter out;
    const double first = std::arg(heard[0]) + pi / 2.0;
    three mean_even = three::Zero();
    double weights = 0.0;
    for (std::size_t i = 0; i < heard.size(); ++i) {
        const auto k = static_cast<double>(i + 1);
        const double size = std::exp(magnitude_basis(k, highest).dot(level)) / k;
        const double angle = k * first - pi / 2.0 + phase_basis(k, highest).dot(turn);
        out.saw.push_back(std::polar(size, angle));
        if (i % 2 == 0) continue;
        mean_even += magnitude_basis(k, highest) / (k * k);
        weights += 1.0 / (k * k);
    }
    mean_even /= weights;
    const auto off = misfit_of(heard, out.saw, noise);
    out.u_even_level =
        off.birge_ratio * std::sqrt(mean_even.dot(magnitude.covariance() * mean_even));
    out.u_misfit = off.of_mean_level;
    out.misfit_power = off.power;
    return out;
}

}  // namespace cvrig::analysis
