#include "analysis/glide_filter_start.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "analysis/glide_least_squares.hpp"

namespace cvrig::analysis::gliding {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

constexpr double fade_s = 0.010;

/// The combination of `powers` of which the least share is left over. Its own power is the scale:
/// were a coefficient held at 1 instead, the rest could cancel the loudest harmonics.
VectorXd most_alike(const MatrixXd& left, const MatrixXd& powers) {
    const VectorXd scale = powers.colwise().norm().cwiseInverse().transpose();
    const MatrixXd scaled_left = left * scale.asDiagonal();
    const MatrixXd scaled_powers = powers * scale.asDiagonal();
    const MatrixXd a = scaled_left.transpose() * scaled_left;
    MatrixXd b = scaled_powers.transpose() * scaled_powers;
    b.diagonal().array() += 1e-13;
    const Eigen::GeneralizedSelfAdjointEigenSolver<MatrixXd> solver{a, b};
    const VectorXd d = scale.asDiagonal() * solver.eigenvectors().col(0);
    return d / d[0];
}

double middle_hz(const glide_law& law) {
    return std::sqrt(law.from_hz() * law.to_hz());
}

voice_filter filter_of(double reference_hz, std::array<double, 4> a) {
    return {reference_hz, std::log(2.0 / reference_hz), a};
}

/// Four equal poles at a multiple of the reference, with feedback around them.
voice_filter ladder(double reference_hz, double multiple, double feedback) {
    const double x = 1 / multiple;
    const double g = 1 / (1 + feedback);
    return filter_of(reference_hz,
                     {4 * x * g, 6 * x * x * g, 4 * x * x * x * g, x * x * x * x * g});
}

voice_filter two_pole(double reference_hz, double multiple, double q) {
    return filter_of(reference_hz, {1 / (multiple * q), 1 / (multiple * multiple), 0.0, 0.0});
}

struct ranked {
    voice_state state;
    double power;
};

/// A start found without a filter is late by the filter's delay.
voice_state behind(const glide_law& law, double decay_per_s, const voice_filter& filter) {
    voice_state state{law, decay_per_s, true, filter};
    state.law.at[at_start] -= filter.delay_s(middle_hz(law));
    return state;
}

std::vector<ranked> typical_filters(voice_model& model, const VectorXd& volts, const glide_law& law,
                                    double decay_per_s) {
    const double high = std::max(law.from_hz(), law.to_hz());
    const double low = std::min(law.from_hz(), law.to_hz());
    std::vector<ranked> out;
    constexpr int cutoffs = 5;
    for (int i = 0; i < cutoffs; ++i) {
        const double first = 0.8 * low / high;
        const double multiple = first * std::pow(7.0 / first, i / (cutoffs - 1.0));
        for (const auto& filter : {ladder(high, multiple, 0.3), ladder(high, multiple, 2.5),
                                   two_pole(high, multiple, 3.0)}) {
            const voice_state state = behind(law, decay_per_s, filter);
            out.push_back({state, residual_power(model, volts, state)});
        }
    }
    std::sort(out.begin(), out.end(), [](auto& a, auto& b) { return a.power < b.power; });
    return out;
}

}  // namespace

voice_state by_equation_error(voice_model& model, const VectorXd& volts, voice_state state,
                              int rounds) {
    const double high = std::max(state.law.from_hz(), state.law.to_hz());
    const double ring_s = 8 / (2 * std::numbers::pi * 1.5 * high);
    const auto drop =
        std::min(volts.size() / 5, static_cast<Index>((fade_s + ring_s) * model.window().rate_hz));
    const Index rows = volts.size() - 2 * drop;
    for (int round = 0; round < rounds; ++round) {
        const MatrixXd columns = model.columns(state).middleRows(drop, rows);
        const MatrixXd powers = model.data_slopes(state, volts, fade_s).middleRows(drop, rows);
        const MatrixXd left = powers - columns * linear_part{columns}.solve(powers);
        const VectorXd d = most_alike(left, powers);
        for (Index k = 0; k < 4; ++k) state.filter.a[static_cast<std::size_t>(k)] = d[k + 1];
        const auto causal = state.filter.made_causal();
        const double middle = middle_hz(state.law);
        const double late = causal.delay_s(middle) - state.filter.delay_s(middle);
        state.law.at[at_start] -= std::clamp(late, -0.25 / middle, 0.25 / middle);
        state.filter = causal;
    }
    return state;
}

std::vector<voice_state> filter_starts(voice_model& model, const VectorXd& volts,
                                       const glide_law& law, double decay_per_s, std::size_t most) {
    auto list = typical_filters(model, volts, law, decay_per_s);
    list.resize(std::min(list.size(), std::size_t{3}));
    const double high = std::max(law.from_hz(), law.to_hz());
    auto add = [&](const voice_state& from) {
        const auto state = by_equation_error(model, volts, from, 3);
        list.push_back({state, residual_power(model, volts, state)});
    };
    voice_state neutral{law, decay_per_s, true, ladder(high, 1.5, 0.0)};
    add(neutral);
    add(list.front().state);
    std::sort(list.begin(), list.end(), [](auto& a, auto& b) { return a.power < b.power; });
    std::vector<voice_state> out;
    for (std::size_t i = 0; i < std::min(most, list.size()); ++i) out.push_back(list[i].state);
    return out;
}

}  // namespace cvrig::analysis::gliding
