#include "analysis/closing_search.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace cvrig::analysis::closing_fit {

namespace {

constexpr int highest_order = 4;

/// A start: the polynomial that suits best if the filter closes so far, so fast.
struct start {
    std::vector<double> parameters;
    double rss{std::numeric_limits<double>::infinity()};
};

/// Squares of the points' frequencies, as a filter at rest would be asked for them.
std::vector<double> squares_at_rest(const scene& s, double opened_octaves, double tau_s) {
    std::vector<double> out;
    out.reserve(s.points.size());
    double t_s = std::numeric_limits<double>::quiet_NaN(), closing = 1.0;
    for (const auto& p : s.points) {
        if (p.t_s != t_s) {
            t_s = p.t_s;
            closing = std::exp2(-opened_octaves * std::exp(-t_s / tau_s));
        }
        out.push_back(p.frequency * closing * p.frequency * closing);
    }
    return out;
}

// c(z) L^2 = 1 with c = c0 (1 + q1 z + ...) is linear, and its residuals are twice those of the
// level in nepers, to first order.
start start_at(const scene& s, double opened_octaves, double tau_s, int order) {
    constexpr int most = highest_order + 1;
    using small_matrix =
        Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, most, most>;
    using small_vector = Eigen::Matrix<double, Eigen::Dynamic, 1, Eigen::ColMajor, most, 1>;
    const Eigen::Index columns = order + 1;
    small_matrix normal = small_matrix::Zero(columns, columns);
    small_vector right = small_vector::Zero(columns), row(columns);
    const auto z = squares_at_rest(s, opened_octaves, tau_s);
    for (std::size_t i = 0; i < z.size(); ++i) {
        const auto& p = s.points[i];
        double power = 0.5 / p.u * std::exp(2.0 * p.nepers);
        for (Eigen::Index j = 0; j < columns; ++j, power *= z[i]) row[j] = power;
        normal.noalias() += row * row.transpose();
        right += 0.5 / p.u * row;
    }
    const small_vector c = Eigen::LDLT<small_matrix>{normal}.solve(right);
    start out;
    if (!(c[0] > 0.0) || !c.allFinite()) return out;
    out.parameters = {-0.5 * std::log(c[0]), 0.0, opened_octaves, std::log(tau_s)};
    for (Eigen::Index j = 1; j < columns; ++j) out.parameters.push_back(c[j] / c[0]);
    double rss = 0.0;
    const std::span<const double> q{out.parameters.begin() + first_q, out.parameters.end()};
    for (std::size_t i = 0; i < z.size(); ++i) {
        const auto& p = s.points[i];
        const auto v = polynomial(q, z[i]);
        if (!(v.value > 0.0)) return start{};
        const double off = (out.parameters[ln_gain] - 0.5 * std::log(v.value) - p.nepers) / p.u;
        rss += off * off;
    }
    out.rss = rss;
    return out;
}

// Every third point is enough to start from.
start best_start(const scene& whole, int order) {
    scene s = whole;
    s.points.clear();
    for (std::size_t i = 0; i < whole.points.size(); i += 3) s.points.push_back(whole.points[i]);
    start best;
    for (double tau = 0.06 * s.span_s; tau < 3.0 * s.span_s; tau *= 1.5)
        for (double octaves = 0.5; octaves < 9.0; octaves *= 1.4) {
            auto next = start_at(s, octaves, tau, order);
            if (next.rss < best.rss) best = std::move(next);
        }
    return best;
}

/// One pole more, from a filter that is found without it; the same filter if that fits no better.
found_filter with_more_poles(const scene& s, found_filter found) {
    auto start = found.fit.parameters;
    for (auto order = static_cast<int>(start.size() - first_q); order < highest_order; ++order) {
        start.push_back(1e-4);
        auto more = found_from(s, start);
        if (!more || !(more->fit.rss < found.fit.rss)) return found;
        found = std::move(*more);
        start = found.fit.parameters;
    }
    return found;
}

}  // namespace

outcome<nonlinear_fit> fit_from(const scene& s, const std::vector<double>& start) {
    const fit_model model{
        .points = s.points.size() + (s.rest ? 1 : 0),
        .residuals =
            [&s](std::span<const double> p, std::span<double> out) {
                moment_nodes nodes{s, p};
                for (std::size_t i = 0; i < s.points.size(); ++i) {
                    const auto& at = s.points[i];
                    out[i] = (mean_nepers(nodes.about(at.t_s), p, at, nullptr) - at.nepers) / at.u;
                }
                if (s.rest) out.back() = off_known_rest(s, p, nullptr);
            },
        .jacobian =
            [&s](std::span<const double> p, std::span<double> out) {
                std::ranges::fill(out, 0.0);
                moment_nodes nodes{s, p};
                for (std::size_t i = 0; i < s.points.size(); ++i)
                    (void)mean_nepers(nodes.about(s.points[i].t_s), p, s.points[i],
                                      &out[i * p.size()]);
                if (s.rest) (void)off_known_rest(s, p, &out[s.points.size() * p.size()]);
            }};
    return fit_nonlinear(model, start, {.most_evaluations = 200, .tolerance = 1e-3});
}

octaves cutoff_at(const scene& s, double z_of_half_power, double open_octaves) {
    return octaves{std::log2(s.unit_hz) + 0.5 * std::log2(z_of_half_power) + open_octaves};
}

std::optional<found_filter> found_from(const scene& s, const std::vector<double>& start) {
    auto fit = fit_from(s, start);
    for (int i = 0; fit && i < 2; ++i) fit = fit_from(heard_in_phase(s, *fit), fit->parameters);
    if (!fit) return std::nullopt;
    const auto z = half_power(std::span{fit->parameters}.subspan(first_q));
    if (!z) return std::nullopt;
    return found_filter{std::move(*fit), *z};
}

std::optional<found_filter> find_filter(const scene& s) {
    for (int order = highest_order; order >= 1; --order) {
        const auto from = best_start(s, order);
        if (from.parameters.empty()) continue;
        if (auto found = found_from(s, from.parameters))
            return with_more_poles(s, std::move(*found));
    }
    return std::nullopt;
}

}  // namespace cvrig::analysis::closing_fit
