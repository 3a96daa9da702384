#include "analysis/glide_fit.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <optional>

#include "analysis/glide_least_squares.hpp"

namespace cvrig::analysis::gliding {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

struct evaluation {
    VectorXd weights, residual;
    double rss;
};

evaluation project(voice_model& model, const VectorXd& volts, const voice_state& state,
                   std::optional<MatrixXd>& slope) {
    const MatrixXd& columns = model.columns(state);
    const linear_part linear{columns};
    evaluation out{linear.solve(volts), {}, 0.0};
    out.residual = volts - columns * out.weights;
    out.rss = out.residual.squaredNorm();
    if (slope) {
        MatrixXd raw = model.derivatives(state, out.weights);
        *slope = raw - columns * linear.solve(raw);
    }
    return out;
}

VectorXd longest_steps(const voice_state& state) {
    VectorXd v = VectorXd::Constant(state.places(), 1e300);
    v.head<5>() << 0.01, 0.01, 0.25, 0.001, 2.0;
    if (state.filtered) v[5] = 0.7;
    return v;
}

/// What is known beforehand as pulls: weights per variance, and the places they pull to.
struct pulls {
    VectorXd weight, to;
};

pulls pulls_of(const voice_state& state, const law_prior& prior) {
    pulls p{VectorXd::Zero(state.places()), VectorXd::Zero(state.places())};
    for (std::size_t k = 0; k < law_places; ++k) {
        const auto i = static_cast<Index>(k);
        p.to[i] = prior.at[k];
        if (prior.u[k] > 0) p.weight[i] = 1 / (prior.u[k] * prior.u[k]);
    }
    p.weight[4] = 1.0 / (20.0 * 20.0);  // decays beyond 20 per second are no held note
    return p;
}

double penalty(const pulls& p, const VectorXd& values, double variance) {
    return variance * (p.weight.array() * (values - p.to).array().square()).sum();
}

}  // namespace

voice_fit fit_voice(voice_model& model, const VectorXd& volts, const voice_state& from,
                    const law_prior& prior, int most_rounds) {
    voice_fit fit;
    fit.state = from;
    fit.independent = static_cast<double>(volts.size()) *
                      std::min(1.0, 2 * model.window().band.centre_hz() / model.window().rate_hz);
    const pulls pull = pulls_of(from, prior);
    const VectorXd longest = longest_steps(from);
    std::optional<MatrixXd> slope{MatrixXd{}};
    auto here = project(model, volts, fit.state, slope);
    fit.columns = model.columns(fit.state).cols();
    fit.rss = here.rss;
    double damping = 1e-3;
    for (int round = 0; round < most_rounds; ++round) {
        const VectorXd values = fit.state.values();
        const double variance = fit.variance();
        MatrixXd normal = slope->transpose() * *slope;
        VectorXd gradient = slope->transpose() * here.residual;
        normal.diagonal() += variance * pull.weight;
        gradient -= VectorXd{variance * (pull.weight.array() * (values - pull.to).array())};
        normal.diagonal() *= 1 + damping;
        normal.diagonal().array() += 1e-300;
        const VectorXd scale = normal.diagonal().cwiseSqrt().cwiseInverse();
        const MatrixXd scaled = scale.asDiagonal() * normal * scale.asDiagonal();
        const VectorXd solved = scaled.ldlt().solve(scale.cwiseProduct(gradient));
        const VectorXd step = scale.cwiseProduct(solved).cwiseMax(-longest).cwiseMin(longest);
        voice_state next_state = fit.state;
        next_state.set(values + step);
        std::optional<MatrixXd> next_slope{MatrixXd{}};
        auto next = project(model, volts, next_state, next_slope);
        const double before = here.rss + penalty(pull, values, variance);
        const double after = next.rss + penalty(pull, next_state.values(), variance);
        if (!(after < before)) {
            // At the bottom rounding alone decides; a step too small to matter ends the fit.
            if (std::abs(after - before) < 1e-2 * variance) {
                fit.settled = true;
                break;
            }
            damping = std::max(damping, 1e-4) * 8;
            if (damping > 1e6) break;
            continue;
        }
        fit.state = next_state;
        here = std::move(next);
        slope = std::move(next_slope);
        fit.rss = here.rss;
        damping /= 10;
        if (before - after < 1e-2 * variance) {
            fit.settled = true;
            break;
        }
    }
    fit.columns = static_cast<Index>(here.weights.size());
    fit.weights = here.weights;
    fit.residual = here.residual;
    fit.slope = std::move(*slope);
    fit.signal_rms = std::sqrt((volts - here.residual).squaredNorm() /
                               static_cast<double>(std::max(Index{1}, volts.size())));
    return fit;
}

double residual_power(voice_model& model, const VectorXd& volts, const voice_state& state) {
    const MatrixXd& columns = model.columns(state);
    const MatrixXd weights = linear_part{columns}.solve(volts);
    return (volts - columns * weights).squaredNorm();
}

law_uncertainty uncertainty_of(const voice_fit& fit, const fit_window& window,
                               const law_prior& prior) {
    const Index n = fit.state.places();
    const pulls pull = pulls_of(fit.state, prior);
    const double variance = fit.variance();
    MatrixXd normal = fit.slope.transpose() * fit.slope;
    normal.diagonal() += variance * pull.weight;
    const VectorXd scale = (normal.diagonal().array() + 1e-300).sqrt().inverse();
    MatrixXd scaled = scale.asDiagonal() * normal * scale.asDiagonal();
    scaled.diagonal().array() += 1e-13;
    const MatrixXd inverse =
        scale.asDiagonal() * scaled.ldlt().solve(MatrixXd::Identity(n, n)) * scale.asDiagonal();
    MatrixXd spread = MatrixXd::Zero(n, n);
    const auto block = std::max(Index{1}, static_cast<Index>(0.010 * window.rate_hz));
    for (Index r = 0; r < fit.residual.size(); r += block) {
        const Index length = std::min(block, fit.residual.size() - r);
        const VectorXd g =
            fit.slope.middleRows(r, length).transpose() * fit.residual.segment(r, length);
        spread += g * g.transpose();
    }
    spread.diagonal() += variance * variance * pull.weight;
    const MatrixXd sandwich = inverse * spread * inverse;
    law_uncertainty out;
    for (std::size_t k = 0; k < law_places; ++k) {
        const auto i = static_cast<Index>(k);
        out.u[k] = std::sqrt(std::max(variance * inverse(i, i), sandwich(i, i)));
    }
    return out;
}

}  // namespace cvrig::analysis::gliding
