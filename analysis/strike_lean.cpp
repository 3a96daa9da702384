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

/// ln of a band over the fundamental, in volts.
double ratio_of(const strike_track& track, std::size_t frame, std::size_t band) {
    return 0.5 * track.bands[frame][band];
}

/// The bands leant on and doubted by, and by how much of their ratio: 1 / (k^2 - 1) for harmonic k.
struct lever {
    std::size_t band;
    double share;
};

lean_track apply(const strike_track& track, lever on, lever check) {
    lean_track out;
    for (std::size_t i = 0; i < track.size(); ++i) {
        const double pull = -on.share * ratio_of(track, i, on.band);
        out.pull.push_back(pull);
        out.level.push_back(track.log_level[i] + pull);
        out.doubt.push_back(pull + check.share * ratio_of(track, i, check.band));
    }
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
    // Bands 1, 2 and 4 begin with harmonics 2, 3 and 5; a square has only odd ones.
    constexpr lever second{1, 1.0 / 3.0};
    constexpr lever third{2, 1.0 / 8.0};
    constexpr lever fifth{4, 1.0 / 24.0};
    constexpr lever nothing{0, 0.0};
    const bool by_second = dependable(t, &strike_track::second, 1);
    const bool by_third = dependable(t, &strike_track::third, 2);
    const lean by = by_second ? lean::second : by_third ? lean::third : lean::none;
    const lever on = by_second ? second : by_third ? third : nothing;
    const lever check = by_second ? (by_third ? third : nothing) : by_third ? fifth : nothing;
    return {by, apply(t.from, on, check), apply(t.to, on, check), apply(t.step, on, check)};
}

}  // namespace cvrig::analysis
