#include "analysis/cutoff.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace cvrig::analysis {
namespace {

constexpr int highest_order = 4;
constexpr double standing_out = 10.0;    // over its uncertainty: 20 dB
constexpr double deepest = 1.0 / 300.0;  // 50 dB below the lowest: beyond, other things are heard
// A digital filter follows no analogue law up to half its rate. Harmonics 24 dB down say all about
// the cutoff, where there are enough of them.
constexpr double deep_enough = 1.0 / 16.0;
constexpr std::size_t enough_points = 9;
constexpr double worst_misfit = 10.0;

struct point {
    double x;        // square of frequency, in units of the square of `unit_hz`
    double squared;  // of the level over that at the source
    double u;        // relative, of the level
    double u_noise;  // part of it
};

struct points {
    std::vector<point> all;
    double unit_hz{1.0};
    double highest_hz{0.0};
};

struct candidate {
    double hz, ratio, u, u_noise;
};

// What stands out, the lowest first.
std::vector<candidate> standing_out_of(std::span<const harmonic_level> heard,
                                       std::span<const double> source,
                                       const cutoff_request& request) {
    std::vector<candidate> out;
    for (std::size_t i = 0; i < heard.size(); ++i) {
        const double noise = heard[i].u_peak / heard[i].peak;
        if (!(noise * standing_out < 1.0)) continue;
        out.push_back({static_cast<double>(heard[i].number) * request.pitch.value(),
                       heard[i].peak.value() / source[i],
                       std::hypot(noise, request.relative_u_source),
                       heard[i].u_noise / heard[i].peak});
    }
    std::ranges::stable_sort(out, {}, &candidate::hz);
    return out;
}

points usable(std::span<const harmonic_level> heard, std::span<const double> source,
              const cutoff_request& request) {
    points out;
    // Against the lowest harmonic, not the loudest: a resonance may stand 30 dB above the rest.
    const auto found = standing_out_of(heard, source, request);
    for (const auto& c : found) {
        const double share = c.ratio / found.front().ratio;
        if (share < deepest || (share < deep_enough && out.all.size() >= enough_points)) continue;
        out.all.push_back({c.hz, c.ratio * c.ratio, c.u, c.u_noise});
        out.highest_hz = std::max(out.highest_hz, c.hz);
        // About where the gain has fallen to half: keeps the powers of x of like size.
        if (share > 0.5) out.unit_hz = std::max(out.unit_hz, c.hz);
    }
    for (auto& p : out.all) p.x = p.x * p.x / (out.unit_hz * out.unit_hz);
    if (request.gain)
        out.all.push_back({0.0, request.gain->gain * request.gain->gain, request.gain->u_relative,
                           request.gain->u_noise});
    return out;
}

/// 1/|H|^2 over the square of the gain, as a polynomial in x.
struct polynomial {
    Eigen::VectorXd c;
    Eigen::MatrixXd covariance;
    Eigen::MatrixXd by_noise;  ///< the part of it that noise makes
    double misfit{0.0};

    [[nodiscard]] double at(double x) const {
        double sum = 0.0;
        for (Eigen::Index j = c.size(); j-- > 0;) sum = sum * x + c[j];
        return sum;
    }
    [[nodiscard]] double slope(double x) const {
        double sum = 0.0;
        for (Eigen::Index j = c.size(); j-- > 1;) sum = sum * x + static_cast<double>(j) * c[j];
        return sum;
    }
};

// The relative error of 1/L^2 is twice that of L, so that least squares of c(x) L^2 - 1 are those
// of the level in nepers, to first order.
std::optional<polynomial> fitted(const std::vector<point>& all, int order) {
    const auto rows = static_cast<Eigen::Index>(all.size());
    const Eigen::Index columns = order + 1;
    if (rows < columns) return std::nullopt;
    Eigen::MatrixXd a(rows, columns);
    Eigen::VectorXd b(rows);
    for (Eigen::Index i = 0; i < rows; ++i) {
        const auto& p = all[static_cast<std::size_t>(i)];
        const double weight = 0.5 / p.u;
        double power = weight * p.squared;
        for (Eigen::Index j = 0; j < columns; ++j, power *= p.x) a(i, j) = power;
        b[i] = weight;
    }
    const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr{a};
    if (qr.rank() < columns) return std::nullopt;
    polynomial out{.c = qr.solve(b), .covariance = {}, .by_noise = {}, .misfit = 0.0};
    const double rss = (a * out.c - b).squaredNorm();
    const auto freedom = static_cast<double>(rows - columns);
    out.misfit = freedom > 0.0 ? std::sqrt(rss / freedom) : 0.0;
    const double widened = std::max(1.0, out.misfit * out.misfit);
    const Eigen::MatrixXd inverse = (a.transpose() * a).inverse();
    Eigen::VectorXd noise_share(rows);
    for (Eigen::Index i = 0; i < rows; ++i) {
        const auto& p = all[static_cast<std::size_t>(i)];
        noise_share[i] = p.u_noise / p.u;
    }
    const Eigen::MatrixXd moved = noise_share.asDiagonal() * a * inverse;
    out.covariance = widened * inverse;
    out.by_noise = widened * (moved.transpose() * moved);
    return out;
}

// The largest x within what was heard at which the power has fallen to half; walks down from the
// top, since resonance may have it cross that level more than once.
std::optional<double> half_power(const polynomial& p, double highest_x) {
    const double half = 2.0 * p.at(0.0);
    if (!(half > 0.0) || !(p.at(highest_x) > half)) return std::nullopt;
    constexpr double finer = 0.97;
    double above = highest_x;
    double below = above * finer;
    while (p.at(below) > half && below > 1e-6 * highest_x) {
        above = below;
        below *= finer;
    }
    if (p.at(below) > half) return std::nullopt;
    for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (above + below);
        (p.at(middle) > half ? above : below) = middle;
    }
    return 0.5 * (above + below);
}

double u_of_root(const polynomial& p, const Eigen::MatrixXd& covariance, double x) {
    Eigen::VectorXd sensitivity(p.c.size());
    double power = 1.0;
    for (Eigen::Index j = 0; j < p.c.size(); ++j, power *= x) sensitivity[j] = power;
    sensitivity[0] -= 2.0;
    const double variance = sensitivity.dot(covariance * sensitivity);
    return std::sqrt(std::max(0.0, variance)) / std::abs(p.slope(x));
}

cutoff_reading described(const polynomial& p, const points& heard) {
    cutoff_reading out;
    out.misfit_ratio = p.misfit;
    out.gain = p.c[0] > 0.0 ? 1.0 / std::sqrt(p.c[0]) : 0.0;
    out.u_gain =
        p.c[0] > 0.0 ? 0.5 * out.gain * std::sqrt(std::max(0.0, p.covariance(0, 0))) / p.c[0] : 0.0;
    const double highest_x = heard.highest_hz * heard.highest_hz / (heard.unit_hz * heard.unit_hz);
    const auto x = half_power(p, highest_x);
    if (!x) {
        out.beyond = true;
        out.cutoff = hertz{heard.highest_hz};
        return out;
    }
    const double root = std::sqrt(*x);
    out.cutoff = hertz{heard.unit_hz * root};
    out.u_cutoff = hertz{heard.unit_hz * 0.5 * u_of_root(p, p.covariance, *x) / root};
    out.u_noise = hertz{heard.unit_hz * 0.5 * u_of_root(p, p.by_noise, *x) / root};
    return out;
}

bool is_sound(std::span<const harmonic_level> heard, std::span<const double> source) {
    return std::ranges::all_of(heard,
                               [](const auto& h) {
                                   return h.number > 0 && std::isfinite(h.peak.value()) &&
                                          std::isfinite(h.u_peak.value()) && h.peak >= volts{0.0} &&
                                          h.u_peak >= volts{0.0};
                               }) &&
           std::ranges::all_of(source, [](double v) { return std::isfinite(v) && v > 0.0; });
}

}  // namespace

outcome<cutoff_reading> measure_cutoff(std::span<const harmonic_level> heard,
                                       std::span<const double> source_volts,
                                       const cutoff_request& request) {
    if (heard.size() != source_volts.size() || !(request.pitch > hertz{0.0}) ||
        !(request.relative_u_source > 0.0) || !is_sound(heard, source_volts) ||
        (request.gain && !(request.gain->gain > 0.0 && request.gain->u_relative > 0.0 &&
                           request.gain->u_noise >= 0.0)))
        return refuse(refusal::bad_argument);
    if (std::ranges::all_of(heard, [](const auto& h) { return h.peak == volts{0.0}; }))
        return refuse(refusal::silent);
    const auto found = usable(heard, source_volts, request);
    if (found.all.size() < 3) return refuse(refusal::too_short);
    // One degree of freedom is kept, to see whether it fits at all.
    const int order = std::min(highest_order, static_cast<int>(found.all.size()) - 2);
    const auto p = fitted(found.all, order);
    if (!p || !(p->c[0] > 0.0) || p->misfit > worst_misfit) return refuse(refusal::no_fit);
    auto out = described(*p, found);
    out.harmonics_used = found.all.size() - (request.gain ? 1 : 0);
    return out;
}

}  // namespace cvrig::analysis
