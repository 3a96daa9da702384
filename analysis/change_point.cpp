#include "analysis/change_point.hpp"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <optional>

namespace cvrig::analysis {
namespace {

/// Sums of the readings before each place, less the first reading, so that nothing is lost to a large offset.
struct running_sums {
    std::vector<double> x, xx, uu;
    double origin{0.0};

    running_sums(std::span<const double> readings, std::span<const double> u)
        : x(readings.size() + 1), xx(x.size()), uu(x.size()), origin{readings.front()} {
        for (std::size_t i = 0; i < readings.size(); ++i) {
            const double d = readings[i] - origin;
            x[i + 1] = x[i] + d;
            xx[i + 1] = xx[i] + d * d;
            uu[i + 1] = uu[i] + u[i] * u[i];
        }
    }
    [[nodiscard]] double mean(std::size_t from, std::size_t to) const {
        return origin + (x[to] - x[from]) / static_cast<double>(to - from);
    }
    /// Sum of squares about the mean.
    [[nodiscard]] double scatter(std::size_t from, std::size_t to) const {
        const double sum = x[to] - x[from];
        return std::max(0.0, xx[to] - xx[from] - sum * sum / static_cast<double>(to - from));
    }
};

/// A stretch of the series, and a place in it to cut.
struct stretch {
    std::size_t from, to;
    [[nodiscard]] std::size_t size() const noexcept { return to - from; }
};

/// Twice the tail of t with n - 2 degrees of freedom.
double chance_by_scatter(double step, double scatter, double per_place, std::size_t n) {
    const double freedom = static_cast<double>(n) - 2.0;
    const double sd = std::sqrt(scatter / freedom);
    if (sd == 0.0) return step == 0.0 ? 1.0 : 0.0;
    const boost::math::students_t t{freedom};
    return 2.0 * boost::math::cdf(boost::math::complement(t, step / (sd * per_place)));
}

double chance_by_stated(double step, double mean_square, double per_place) {
    const double sd = std::sqrt(mean_square);
    if (sd == 0.0) return step == 0.0 ? 1.0 : 0.0;
    const boost::math::normal gauss;
    return 2.0 * boost::math::cdf(boost::math::complement(gauss, step / (sd * per_place)));
}

/// The chance of a step as large as that at `cut`, if it were the only place.
double chance_at(const running_sums& sums, stretch s, std::size_t cut) {
    const auto left = static_cast<double>(cut - s.from), right = static_cast<double>(s.to - cut);
    const double step = std::abs(sums.mean(cut, s.to) - sums.mean(s.from, cut));
    const double per_place = std::sqrt(1.0 / left + 1.0 / right);
    const double scatter = sums.scatter(s.from, cut) + sums.scatter(cut, s.to);
    const double mean_square = (sums.uu[s.to] - sums.uu[s.from]) / static_cast<double>(s.size());
    return std::max(chance_by_scatter(step, scatter, per_place, s.size()),
                    chance_by_stated(step, mean_square, per_place));
}

/// Where the cut explains most: the largest sum of squares between the two parts.
std::size_t best_cut(const running_sums& sums, stretch s) {
    std::size_t best = s.from + 1;
    double least = sums.scatter(s.from, s.to);
    for (std::size_t cut = s.from + 1; cut < s.to; ++cut) {
        const double left = sums.scatter(s.from, cut) + sums.scatter(cut, s.to);
        if (left < least) {
            least = left;
            best = cut;
        }
    }
    return best;
}

std::optional<change_point> cut_of(const running_sums& sums, stretch s, double significance) {
    if (s.size() < 3) return std::nullopt;
    const auto cut = best_cut(sums, s);
    const double p = std::min(1.0, static_cast<double>(s.size() - 1) * chance_at(sums, s, cut));
    if (!(p < significance)) return std::nullopt;
    return change_point{cut, 0.0, 0.0, p};
}

/// Stretches wait in a list instead of on the stack: a series may be long.
std::vector<change_point> cuts(const running_sums& sums, std::size_t n, double significance) {
    std::vector<change_point> found;
    std::vector<stretch> waiting{{0, n}};
    while (!waiting.empty()) {
        const auto s = waiting.back();
        waiting.pop_back();
        const auto cut = cut_of(sums, s, significance);
        if (!cut) continue;
        found.push_back(*cut);
        waiting.push_back({s.from, cut->first_after});
        waiting.push_back({cut->first_after, s.to});
    }
    std::ranges::sort(found, {}, &change_point::first_after);
    return found;
}

}  // namespace

outcome<std::vector<change_point>> change_points(std::span<const double> readings,
                                                 std::span<const double> u, double significance) {
    if (readings.size() != u.size() || !(significance > 0.0 && significance < 1.0))
        return refuse(refusal::bad_argument);
    const auto finite = [](double x) { return std::isfinite(x); };
    if (!std::ranges::all_of(readings, finite) || !std::ranges::all_of(u, finite))
        return refuse(refusal::not_finite);
    if (readings.empty()) return std::vector<change_point>{};
    const running_sums sums{readings, u};
    auto found = cuts(sums, readings.size(), significance);
    for (std::size_t i = 0; i < found.size(); ++i) {
        const auto from = i == 0 ? 0 : found[i - 1].first_after;
        const auto to = i + 1 == found.size() ? readings.size() : found[i + 1].first_after;
        found[i].before = sums.mean(from, found[i].first_after);
        found[i].after = sums.mean(found[i].first_after, to);
    }
    return found;
}

}  // namespace cvrig::analysis
