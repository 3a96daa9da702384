#include <algorithm>

#include "analysis/strike_judges.hpp"

namespace cvrig::analysis {
namespace {

/// Whether a harmonic stands well above the noise, and is no mere remainder, wherever it is leant
/// on.
bool dependable(const strike_track& track, const std::vector<double>& ratio, std::size_t band,
                std::size_t first) {
    std::vector<double> ratios(ratio.begin() + static_cast<std::ptrdiff_t>(first), ratio.end());
    if (ratios.empty()) return false;
    const auto tenth = ratios.begin() + static_cast<std::ptrdiff_t>(ratios.size() / 10);
    std::ranges::nth_element(ratios, tenth);
    constexpr double least_log_ratio = -3.2;
    constexpr double most_variance = 0.01;
    return *tenth > least_log_ratio && track.variance.back()[band] < most_variance;
}

std::size_t frame_at_age(const strike_track& track, double age_s) {
    return std::min(place_of(track, age_s).i, track.size() - 1);
}

std::vector<double> scaled(const std::vector<double>& ratio, double by) {
    std::vector<double> out(ratio.size());
    std::ranges::transform(ratio, out.begin(), [by](double r) { return by * r; });
    return out;
}

std::vector<double> sum(const std::vector<double>& a, const std::vector<double>& b) {
    std::vector<double> out(a.size());
    std::ranges::transform(a, b, out.begin(), [](double x, double y) { return x + y; });
    return out;
}

bool dependable(const strike_tracks& t, std::vector<double> strike_track::*ratio,
                std::size_t band) {
    const double settled_s = t.half_s.front() + 0.012;
    return dependable(t.from, t.from.*ratio, band, frame_at_age(t.from, settled_s)) &&
           dependable(t.to, t.to.*ratio, band, frame_at_age(t.to, settled_s)) &&
           dependable(t.step, t.step.*ratio, band, t.first_after);
}

}  // namespace

track_place place_of(const strike_track& track, double age_s) noexcept {
    const double place = (age_s - track.first_age.value()) / strike_hop.value();
    if (place < 0.0) return {0, 0.0, false};
    const auto i = static_cast<std::size_t>(place);
    if (i + 1 >= track.size()) return {track.size() - 1, 0.0, false};
    return {i, place - static_cast<double>(i), true};
}

lean_levels lean_on_harmonics(const strike_tracks& t) {
    lean_levels out{lean::none, {}, {}, {}, {}, {}, {}};
    auto ratio = &strike_track::second;
    double by = 0.0;
    if (dependable(t, &strike_track::second, 1)) {
        out.by = lean::second;
        by = -1.0 / 3.0;
    } else if (dependable(t, &strike_track::third, 2)) {
        out.by = lean::third;
        ratio = &strike_track::third;
        by = -1.0 / 8.0;
    }
    out.pull_from = scaled(t.from.*ratio, by);
    out.pull_to = scaled(t.to.*ratio, by);
    out.pull_step = scaled(t.step.*ratio, by);
    out.from = sum(t.from.log_level, out.pull_from);
    out.to = sum(t.to.log_level, out.pull_to);
    out.step = sum(t.step.log_level, out.pull_step);
    return out;
}

}  // namespace cvrig::analysis
