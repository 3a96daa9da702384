#include "analysis/closing_model.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <numbers>

namespace cvrig::analysis::closing_fit {

namespace {

constexpr std::array<double, 3> node_weights{1.0 / 6.0, 2.0 / 3.0, 1.0 / 6.0};

/// What a window hears less, in nepers, since the phase of a harmonic turns while the filter moves.
double lost_to_phase(const window_nodes& nodes, std::span<const std::complex<double>> poles,
                     double frequency) {
    std::complex<double> together{0.0, 0.0};
    double sizes = 0.0;
    for (std::size_t i = 0; i < 3; ++i) {
        std::complex<double> turned{1.0, 0.0};
        for (const auto& pole : poles)
            turned *= 1.0 + std::complex<double>{0.0, frequency * nodes.closing[i]} / pole;
        together += node_weights[i] / turned;
        sizes += node_weights[i] / std::abs(turned);
    }
    return std::log(std::abs(together) / sizes);
}

}  // namespace

value_and_slope polynomial(std::span<const double> q, double z) {
    double value = 0.0, slope = 0.0;
    for (std::size_t j = q.size(); j-- > 0;) {
        slope = slope * z + static_cast<double>(j + 1) * q[j];
        value = (value + q[j]) * z;
    }
    return {1.0 + value, slope};
}

double stretched(double hz, double rate_hz) {
    const double x = std::numbers::pi * std::min(hz / rate_hz, 0.45);
    return x > 0.0 ? std::tan(x) / x : 1.0;
}

double closing_factor(const scene& s, double open_octaves) {
    const double analogue = std::exp2(-open_octaves);
    if (!s.digital) return analogue;
    const double pole_hz = s.digital->resting_pole_hz;
    return analogue * stretched(pole_hz, s.digital->rate_hz) /
           stretched(pole_hz / analogue, s.digital->rate_hz);
}

gain_here gain_at(std::span<const double> p, double frequency_at_rest) {
    constexpr double nothing = 4.5e-5;  // 87 dB down
    const double z = frequency_at_rest * frequency_at_rest;
    const auto v = polynomial(p.subspan(first_q), z);
    if (!(v.value > 1e-9)) return {nothing, 0.0, z, 1.0};
    return {1.0 / std::sqrt(v.value), std::numbers::ln2 * z * v.slope / v.value, z, v.value};
}

const window_nodes& moment_nodes::about(double t_s) {
    if (t_s == now_.about_s) return now_;
    now_.about_s = t_s;
    for (std::size_t i = 0; i < 3; ++i) {
        now_.t_s[i] = t_s + scene_.node_s * (static_cast<double>(i) - 1.0);
        now_.left[i] = std::exp(-now_.t_s[i] / tau_s_);
        now_.closing[i] = closing_factor(scene_, opened_ * now_.left[i]);
    }
    return now_;
}

double mean_nepers(const window_nodes& nodes, std::span<const double> p, const point& at,
                   double* row) {
    std::array<gain_here, 3> gains{};
    double sum = 0.0;
    for (std::size_t i = 0; i < 3; ++i) {
        gains[i] = gain_at(p, at.frequency * nodes.closing[i]);
        sum += node_weights[i] * gains[i].gain;
    }
    if (row != nullptr) {
        const double by_ln_tau = p[opened] / std::exp(p[ln_tau]);
        for (std::size_t i = 0; i < 3; ++i) {
            const double share = node_weights[i] * gains[i].gain / sum / at.u;
            row[opened] += share * gains[i].by_octave * nodes.left[i];
            row[ln_tau] += share * gains[i].by_octave * by_ln_tau * nodes.left[i] * nodes.t_s[i];
            double power = -0.5 * share / gains[i].value;
            for (std::size_t j = first_q; j < p.size(); ++j) row[j] += power *= gains[i].z;
        }
        row[ln_gain] = 1.0 / at.u;
        row[gain_slope] = at.t_s / at.u;
    }
    return p[ln_gain] + p[gain_slope] * at.t_s + std::log(sum);
}

std::optional<double> half_power(std::span<const double> q) {
    double above = 1e6;
    constexpr double finer = 0.97;
    while (above > 1e-9 && !(polynomial(q, above * finer).value < 2.0)) above *= finer;
    if (above <= 1e-9) return std::nullopt;
    double below = above * finer;
    for (int i = 0; i < 50; ++i) {
        const double middle = 0.5 * (above + below);
        (polynomial(q, middle).value < 2.0 ? below : above) = middle;
    }
    return 0.5 * (above + below);
}

double off_known_rest(const scene& s, std::span<const double> p, double* row) {
    const auto q = p.subspan(first_q);
    const auto z = half_power(q);
    constexpr double far_off = 100.0;
    if (!z) return far_off;
    const double u = s.rest->u.value();
    if (row != nullptr) {
        const double per_z = 0.5 / (std::numbers::ln2 * *z) / u;
        double power = -per_z / polynomial(q, *z).slope;
        for (std::size_t j = first_q; j < p.size(); ++j) row[j] = power *= *z;
    }
    double known = s.rest->cutoff.value();
    if (s.digital) known += std::log2(stretched(std::exp2(known), s.digital->rate_hz));
    return (std::log2(s.unit_hz) + 0.5 * std::log2(*z) - known) / u;
}

std::vector<std::complex<double>> poles_of(std::span<const double> q) {
    const auto n = static_cast<Eigen::Index>(q.size());
    // The reciprocal polynomial w^n + q1 w^(n-1) + ..., of w = 1 / z, needs no division.
    Eigen::MatrixXd companion = Eigen::MatrixXd::Zero(n, n);
    for (Eigen::Index i = 0; i < n; ++i) {
        companion(0, i) = -q[static_cast<std::size_t>(i)];
        if (i > 0) companion(i, i - 1) = 1.0;
    }
    const Eigen::EigenSolver<Eigen::MatrixXd> solver{companion, false};
    std::vector<std::complex<double>> out;
    for (Eigen::Index i = 0; i < n; ++i) {
        const std::complex<double> pole = std::sqrt(-1.0 / solver.eigenvalues()[i]);
        // A gain that would turn negative somewhere has a pole that no filter has: far above what is
        // heard, where nothing holds it.
        if (std::isfinite(std::abs(pole)) && pole.real() > 1e-6 * std::abs(pole))
            out.push_back(pole);
    }
    return out;
}

scene heard_in_phase(scene s, const nonlinear_fit& fit) {
    const auto poles = poles_of(std::span{fit.parameters}.subspan(first_q));
    if (poles.empty()) return s;
    moment_nodes nodes{s, fit.parameters};
    for (auto& at : s.points) at.nepers -= lost_to_phase(nodes.about(at.t_s), poles, at.frequency);
    return s;
}

}  // namespace cvrig::analysis::closing_fit
