#include "analysis/strike.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/samples.hpp"
#include "analysis/strike_judges.hpp"

namespace cvrig::analysis {
namespace {

constexpr double mixed_in = 0.001;

std::optional<refusal> unusable(const strike_case& c) {
    const auto playable = [&](hertz f) {
        return f.value() >= 25.0 && f.value() <= c.rate.value() / 20.0;
    };
    if (!playable(c.from) || !playable(c.to)) return refusal::bad_argument;
    if (!(c.struck_at.value() >= 0.0) || !(c.wait.value() >= 0.05)) return refusal::bad_argument;
    const double least_s = c.struck_at.value() + c.wait.value() + 0.15;
    for (const auto record : {c.reference_from, c.reference_to, c.step}) {
        if (static_cast<double>(record.size()) < least_s * c.rate.value())
            return refusal::too_short;
        if (!all_finite(record)) return refusal::not_finite;
    }
    if (!all_finite(c.silence)) return refusal::not_finite;
    return std::nullopt;
}

double value_at(const strike_tracks& t, const std::vector<double> strike_track::*values,
                double age_s, double blend) {
    const auto read = [&](const strike_track& track) {
        const track_place p = place_of(track, age_s);
        const auto& v = track.*values;
        return p.inside ? (1 - p.f) * v[p.i] + p.f * v[p.i + 1] : v[p.i];
    };
    return (1 - blend) * read(t.from) + blend * read(t.to);
}

std::vector<strike_point> make_track(const strike_tracks& t) {
    constexpr double db_per_neper = 8.685889638065037;
    std::vector<strike_point> out;
    for (std::size_t j = 0; j < t.step.size(); ++j) {
        const double u = t.u_s[j];
        const double w = t.blend[j];
        const double on = t.wait.value() + u;
        const double again = u > -t.half_s[j] ? u : on;
        const auto level = [&](double age) {
            return decibels{db_per_neper * value_at(t, &strike_track::log_level, age, w)};
        };
        const auto bright = [&](double age) {
            return decibels{value_at(t, &strike_track::brightness_db, age, w)};
        };
        out.push_back({seconds{u}, decibels{db_per_neper * t.step.log_level[j]}, level(on),
                       level(again), decibels{t.step.brightness_db[j]}, bright(on), bright(again)});
    }
    return out;
}

}  // namespace

odds to_odds(double went_on, double struck, double partial) noexcept {
    const double sum = went_on + struck + partial;
    if (!(sum > 0.0) || !std::isfinite(sum)) return even_odds;
    const double share = (1.0 - 3.0 * mixed_in) / sum;
    return {share * went_on + mixed_in, share * struck + mixed_in, share * partial + mixed_in};
}

outcome<strike_reading> judge_strike(const strike_case& c) {
    if (const auto why = unusable(c)) return refuse(*why);
    const auto tracks = track_strike(c);
    if (!tracks) return refuse(tracks.error());
    const amplitude_judgement amplitude = judge_amplitude(*tracks);
    const filter_judgement filter = judge_filter(*tracks);
    return strike_reading{amplitude.verdict, filter.verdict,     amplitude.refused,
                          filter.refused,    amplitude.depth,    amplitude.u_depth,
                          filter.depth,      amplitude.contrast, filter.contrast,
                          amplitude.delay,   make_track(*tracks)};
}

odds combine(std::span<const odds> steps) {
    if (steps.empty()) return even_odds;
    constexpr double most_steps = 4.0;
    const double n = static_cast<double>(steps.size());
    const double share = std::min(1.0, most_steps / n);
    double on = 0.0;
    double struck = 0.0;
    double partial = 0.0;
    for (const odds& o : steps) {
        on += share * std::log(std::max(o.went_on, mixed_in));
        struck += share * std::log(std::max(o.struck, mixed_in));
        partial += share * std::log(std::max(o.partial, mixed_in));
    }
    const double most = std::max({on, struck, partial});
    return to_odds(std::exp(on - most), std::exp(struck - most), std::exp(partial - most));
}

}  // namespace cvrig::analysis
