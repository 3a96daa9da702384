#include "analysis/closing_scene.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::analysis::closing_fit {

namespace {

constexpr std::size_t least_moments = 8;
constexpr std::size_t least_points = 24;
constexpr double least_span_s = 0.005;
constexpr double standing_out = 10.0;       // over its uncertainty: 20 dB
constexpr double deep_enough = 1.0 / 40.0;  // 32 dB below the lowest

void collect(scene& s, const heard_harmonics& moment, std::span<const double> source,
             const closing_filter_request& request) {
    double lowest = 0.0;
    for (std::size_t i = 0; i < moment.levels.size(); ++i) {
        const auto& level = moment.levels[i];
        const double noise = level.u_peak / level.peak;
        if (!(noise * standing_out < 1.0)) continue;
        const double ratio = level.peak.value() / source[i];
        if (lowest == 0.0) lowest = ratio;
        if (ratio < deep_enough * lowest) continue;
        s.points.push_back({moment.at.value(),
                            static_cast<double>(level.number) * request.pitch.value() / s.unit_hz,
                            std::log(ratio), std::hypot(noise, request.relative_u_moment)});
    }
}

}  // namespace

bool scene::says_enough() const {
    return moments >= least_moments && points.size() >= least_points && span_s > least_span_s;
}

scene counted(scene s) {
    s.moments = 0;
    for (std::size_t i = 0; i < s.points.size(); ++i)
        if (i == 0 || s.points[i].t_s != s.points[i - 1].t_s) ++s.moments;
    s.span_s = s.points.empty() ? 0.0 : s.points.back().t_s - s.points.front().t_s;
    return s;
}

scene scene_of(std::span<const heard_harmonics> moments, std::span<const double> source,
               const closing_filter_request& request) {
    scene s;
    s.node_s = std::sqrt(3.0) * request.window_deviation.value();
    s.unit_hz = 4.0 * request.pitch.value();
    for (const auto& moment : moments) collect(s, moment, source, request);
    std::ranges::stable_sort(s.points, {}, &point::t_s);
    return counted(std::move(s));
}

}  // namespace cvrig::analysis::closing_fit
