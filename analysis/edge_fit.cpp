#include "analysis/edge_fit.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

namespace cvrig::analysis {
namespace {

constexpr double shortest_samples = 1.0;  // a faster edge happens between two samples
constexpr double finest_samples = 0.002;  // at which the search ends
// A filter that moves while a note begins must not decide between two shapes.
constexpr double clearly = 0.7;
constexpr std::size_t lengths = 16;

/// Sums from the first sample up to any other, so that a straight edge costs no pass.
class running_sums {
public:
    running_sums(std::span<const double> x, std::span<const double> m) : sums_(x.size() + 1) {
        for (std::size_t i = 0; i < x.size(); ++i) {
            const double t = static_cast<double>(i);
            const auto& s = sums_[i];
            sums_[i + 1] = {s.xx + x[i] * x[i],      s.xm + x[i] * m[i],
                            s.xmt + x[i] * m[i] * t, s.mm + m[i] * m[i],
                            s.mmt + m[i] * m[i] * t, s.mmtt + m[i] * m[i] * t * t};
        }
    }

    /// Sum of (x - a m)^2 for a straight edge that rises from `at` to `at + length`.
    [[nodiscard]] double residual(double at, double length) const noexcept {
        const std::size_t n = sums_.size() - 1;
        const auto begin = clipped(std::ceil(at), n);
        const auto end = std::max(begin, clipped(std::ceil(at + length), n));
        const auto& b = sums_[begin];
        const auto& e = sums_[end];
        const auto& all = sums_[n];
        const double cross = (e.xmt - b.xmt - at * (e.xm - b.xm)) / length;
        const double own =
            (e.mmtt - b.mmtt - 2.0 * at * (e.mmt - b.mmt) + at * at * (e.mm - b.mm)) /
            (length * length);
        return all.xx - 2.0 * (cross + all.xm - e.xm) + own + all.mm - e.mm;
    }

private:
    struct sum {
        double xx{0}, xm{0}, xmt{0}, mm{0}, mmt{0}, mmtt{0};
    };
    static std::size_t clipped(double i, std::size_t n) noexcept {
        return static_cast<std::size_t>(std::clamp(i, 0.0, static_cast<double>(n)));
    }
    std::vector<sum> sums_;
};

struct start {
    double at, length, residual;
};

start search(const running_sums& sums, std::size_t n) {
    start best{0.0, shortest_samples, INFINITY};
    const double ratio = std::pow(static_cast<double>(n) / shortest_samples, 1.0 / (lengths - 1));
    double length = shortest_samples;
    for (std::size_t k = 0; k < lengths; ++k, length *= ratio) {
        // A long edge is not missed between two places that lie a fraction of it apart.
        const double step = std::max(1.0, 0.1 * length);
        for (double at = 0.0; at < static_cast<double>(n); at += step) {
            const double r = sums.residual(at, length);
            if (r < best.residual) best = {at, length, r};
        }
    }
    return best;
}

/// Sum of (x - a m)^2 for an exponential edge.
double exponential_residual(std::span<const double> x, std::span<const double> m, double at,
                            double time) noexcept {
    const double kept = std::exp(-1.0 / time);
    const auto begin = static_cast<std::size_t>(std::max(0.0, std::floor(at) + 1.0));
    double missing = std::exp((at - static_cast<double>(begin)) / time);
    double sum = 0.0;
    for (std::size_t i = 0; i < std::min(begin, x.size()); ++i) sum += x[i] * x[i];
    for (std::size_t i = begin; i < x.size(); ++i, missing *= kept) {
        const double left = x[i] - (1.0 - missing) * m[i];
        sum += left * left;
    }
    return sum;
}

/// Moves beginning and end one at a time, by ever smaller steps: an edge is bent, so a method that
/// trusts its slopes can get lost.
template <class Residual>
start descend(start from, const Residual& residual) {
    double begin = from.at;
    double end = from.at + from.length;
    double least = residual(begin, end - begin);
    for (double step = 0.2 * from.length; step > finest_samples; step *= 0.5) {
        bool moved = true;
        for (int turns = 0; moved && turns < 40; ++turns) {
            moved = false;
            for (const auto& [b, e] : {std::pair{step, 0.0}, std::pair{-step, 0.0},
                                       std::pair{0.0, step}, std::pair{0.0, -step}}) {
                if (end + e - begin - b < 0.5 * shortest_samples) continue;
                const double r = residual(begin + b, end + e - begin - b);
                if (!(r < least)) continue;
                least = r;
                begin += b;
                end += e;
                moved = true;
            }
        }
    }
    return {begin, end - begin, least};
}

/// Standard uncertainty of the beginning, from the curvature and what is left over.
std::optional<double> u_beginning(std::span<const double> m, edge_shape shape, const start& found) {
    double aa = 0.0;
    double at = 0.0;
    double tt = 0.0;
    for (std::size_t i = 0; i < m.size(); ++i) {
        const double u = (static_cast<double>(i) - found.at) / found.length;
        if (u <= 0.0 || (shape == edge_shape::straight && u >= 1.0)) continue;
        const double slope =
            (shape == edge_shape::exponential ? std::exp(-u) : 1.0) * m[i] / found.length;
        aa += slope * slope;
        at += slope * slope * u;
        tt += slope * slope * u * u;
    }
    const double determinant = aa * tt - at * at;
    if (!(determinant > 1e-9 * aa * tt)) return std::nullopt;
    const double variance = found.residual / (static_cast<double>(m.size()) - 2.0);
    return std::sqrt(variance * tt / determinant);
}

std::optional<edge_fit> refined(std::span<const double> m, edge_shape shape, const start& found) {
    const auto u = u_beginning(m, shape, found);
    if (!u) return std::nullopt;
    // Of a short edge few samples lie on its slope.
    return edge_fit{found.at, std::hypot(*u, finest_samples, 0.5 / found.length), found.length,
                    shape, found.residual / static_cast<double>(m.size())};
}

double level(const edge_fit& edge, double sample) noexcept {
    const double u = (sample - edge.at_samples) / edge.time_samples;
    if (u <= 0.0) return 0.0;
    return edge.shape == edge_shape::straight ? std::min(u, 1.0) : 1.0 - std::exp(-u);
}

/// By how much the gain, period by period, departs from the fitted edge: what the noise does not
/// explain, as a root mean square. That part of what is left over which only changes the waveform
/// moves no edge.
double gain_error(std::span<const double> x, std::span<const double> m, const edge_fit& edge,
                  double period_samples, double noise_volts) noexcept {
    const double end = edge.at_samples + 1.3 * edge.time_samples;
    const double window = std::max(period_samples, (end - edge.at_samples) / 6.0);
    double squares = 0.0;
    double windows = 0.0;
    for (double from = edge.at_samples; from < end; from += window) {
        double cross = 0.0;
        double own = 0.0;
        const auto first = static_cast<std::size_t>(std::max(0.0, std::ceil(from)));
        for (std::size_t i = first; i < m.size() && static_cast<double>(i) < from + window; ++i) {
            cross += m[i] * (x[i] - level(edge, static_cast<double>(i)) * m[i]);
            own += m[i] * m[i];
        }
        if (!(own > 0.0)) continue;
        // Of noise alone the mean is 0, if no window's is cut off there.
        squares += (cross * cross / own - noise_volts * noise_volts) / own;
        windows += 1.0;
    }
    return windows > 0.0 ? std::sqrt(std::max(0.0, squares / windows)) : 0.0;
}

/// An edge between two samples: the last one before it and the first behind it are all that is
/// known.
edge_fit hard_edge(const running_sums& sums, const start& from, std::size_t n) {
    const double first = std::ceil(from.at + 1e-9);
    return {first - 0.5, 1.0 / std::sqrt(12.0), shortest_samples, edge_shape::straight,
            sums.residual(first - shortest_samples, shortest_samples) / static_cast<double>(n)};
}

}  // namespace

outcome<edge_fit> fit_edge(std::span<const double> x, std::span<const double> m,
                           double period_samples, double noise_volts) {
    const std::size_t n = x.size();
    if (n < 16 || m.size() != n) return refuse(refusal::too_short);
    const running_sums sums{x, m};
    const start rough = search(sums, n);
    std::optional<edge_fit> best;
    if (rough.length > 2.0 * shortest_samples) {
        best = refined(m, edge_shape::straight, descend(rough, [&](double at, double length) {
                           return sums.residual(at, length);
                       }));
        // A straight edge through an exponential one ends after some two time constants.
        const auto other = refined(
            m, edge_shape::exponential,
            descend({rough.at, rough.length / 2.2, 0.0},
                    [&](double at, double time) { return exponential_residual(x, m, at, time); }));
        if (other && (!best || other->residual_power < clearly * best->residual_power))
            best = other;
    }
    if (!best && rough.length > 4.0 * shortest_samples) return refuse(refusal::no_fit);
    if (!best) best = hard_edge(sums, rough, n);
    double power = 0.0;
    for (const double v : m) power += v * v / static_cast<double>(n);
    if (!(power > 0.0)) return refuse(refusal::silent);
    if (best->residual_power > 0.25 * power) return refuse(refusal::no_fit);
    // Where the gain departs from the shape by a part of the whole, the start may be off by as much
    // of the edge's length.
    best->u_at_samples =
        std::hypot(best->u_at_samples,
                   best->time_samples * gain_error(x, m, *best, period_samples, noise_volts));
    return *best;
}

}  // namespace cvrig::analysis
