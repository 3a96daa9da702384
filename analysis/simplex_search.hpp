#pragma once

#include <algorithm>
#include <array>
#include <cmath>

/// The least value of a function of two numbers, without derivatives.
namespace cvrig::analysis {

struct plane_point {
    double x{0.0}, y{0.0}, value{0.0};
};

/// Downhill simplex, started again from where it ended until that gains nothing.
///
/// Source:     J. A. Nelder and R. Mead 1965, "A simplex method for function minimization",
///             Computer Journal 7.
/// Input:      a smooth function with finite values near the start; `step` is about the distance
///             over which it changes. The minimum found is the one that the start leads to.
/// Error:      `tolerance` of the value.
template <class F>
[[nodiscard]] plane_point least_in_plane(F f, plane_point start, double step, double tolerance) {
    const auto at = [&f](double x, double y) { return plane_point{x, y, f(x, y)}; };
    const auto by_value = [](const plane_point& a, const plane_point& b) {
        return a.value < b.value;
    };
    plane_point best = at(start.x, start.y);
    for (int round = 0; round < 8; ++round) {
        std::array<plane_point, 3> s{best, at(best.x + step, best.y), at(best.x, best.y + step)};
        for (int i = 0; i < 200; ++i) {
            std::ranges::sort(s, by_value);
            const double size = std::hypot(s[2].x - s[0].x, s[2].y - s[0].y);
            if (s[2].value - s[0].value <= 0.1 * tolerance && size <= 1e-4 * step) break;
            const double mx = 0.5 * (s[0].x + s[1].x), my = 0.5 * (s[0].y + s[1].y);
            const auto along = [&](double t) {
                return at(mx + t * (s[2].x - mx), my + t * (s[2].y - my));
            };
            const auto mirrored = along(-1.0);
            if (by_value(mirrored, s[0])) {
                const auto further = along(-2.0);
                s[2] = by_value(further, mirrored) ? further : mirrored;
            } else if (by_value(mirrored, s[1])) {
                s[2] = mirrored;
            } else {
                const auto nearer = along(by_value(mirrored, s[2]) ? -0.5 : 0.5);
                if (by_value(nearer, s[2]) && nearer.value <= mirrored.value) {
                    s[2] = nearer;
                } else {
                    s[1] = at(0.5 * (s[0].x + s[1].x), 0.5 * (s[0].y + s[1].y));
                    s[2] = at(0.5 * (s[0].x + s[2].x), 0.5 * (s[0].y + s[2].y));
                }
            }
        }
        std::ranges::sort(s, by_value);
        const double gain = best.value - s[0].value;
        best = s[0];
        if (gain <= tolerance) break;
        step *= 0.25;
    }
    return best;
}

}  // namespace cvrig::analysis
