#include "rig/checks/range_readings.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "analysis/fit.hpp"
#include "analysis/samples.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

// What a wave is not quite a sawtooth: at the slope that a low-pass has at its cutoff, hundredths of a
// decibel are this share of it. A filter that is computed in samples bends the scale of frequencies, by
// tan(x) / x - 1 at x = pi f / rate for the bilinear transform (A. V. Oppenheim, R. W. Schafer,
// "Discrete-Time Signal Processing", from memory), and so do smoothed edges of a wave; a fit whose
// order is free follows most of that (type B, from units of the demo module: scripts/coverage).
constexpr double u_wave_share = 0.0006, u_bent_share = 0.05;

double u_bent(const check_request& request, double hz) {
    const double x = std::min(std::numbers::pi * hz / request.desk.rate().value(), 1.4);
    return u_bent_share * (std::tan(x) / x - 1.0);
}

double u_wave(const check_request& request, double hz) {
    return hz * std::hypot(u_wave_share, u_bent(request, hz));
}

// Steps that lie near each other hear the same harmonics, and err alike, the less the further apart
// they are: as if there were fewer, by (1 - r) / (1 + r) for an autocorrelation that falls as r^k
// (A. Zieba, "Effective number of observations and unbiased estimators of variance for autocorrelated
// data", Metrol. Meas. Syst. 17(1), 2010, from memory).
double fewer_steps(std::span<const double> departures) {
    const double own = analysis::dot(departures, departures);
    const auto count = departures.size() - 1;
    const double next = analysis::dot(departures.first(count), departures.last(count));
    constexpr double most = 0.7;
    const double r = own > 0.0 ? std::clamp(next / own, 0.0, most) : 0.0;
    return std::sqrt((1.0 + r) / (1.0 - r));
}

std::string at_volts(volts v) {
    return show(v.value(), dimension::volts);
}

/// The rise from one step to the next.
struct rise {
    volts from, to;
    double octaves_up;
    double u;

    [[nodiscard]] double per_volt() const { return octaves_up / (to - from).value(); }
};

std::vector<stair_step> heard_steps(std::span<const stair_step> stair) {
    std::vector<stair_step> out;
    for (const auto& s : stair)
        if (s.heard()) out.push_back(s);
    return out;
}

// Of steps beyond what can be heard, and of unread ones, nothing is known: of too many, the rest proves
// nothing.
bool mostly_unheard(std::span<const stair_step> stair) {
    constexpr double most = 0.2;
    const auto heard = static_cast<double>(std::ranges::count_if(stair, &stair_step::heard));
    return heard < (1.0 - most) * static_cast<double>(stair.size());
}

std::vector<rise> rises_of(std::span<const stair_step> stair) {
    const auto heard = heard_steps(stair);
    std::vector<rise> out;
    for (std::size_t i = 1; i < heard.size(); ++i) {
        const auto& a = heard[i - 1];
        const auto& b = heard[i];
        out.push_back({a.at, b.at, (b.cutoff - a.cutoff).value(),
                       std::hypot(a.u_cutoff.value(), b.u_cutoff.value())});
    }
    return out;
}

double median_per_volt(const std::vector<rise>& rises) {
    std::vector<double> slopes;
    for (const auto& r : rises) slopes.push_back(r.per_volt());
    std::ranges::sort(slopes);
    return slopes[slopes.size() / 2];
}

}  // namespace

reading cutoff_reading_of(const check_request& request, const stair_step& s,
                          std::span<const stair_step> stair) {
    const double hz = std::exp2(s.cutoff.value());
    const double hz_per_octave = hz * std::log(2.0);
    const double u_fit = std::sqrt(
        std::max(0.0, std::pow(s.u_cutoff.value(), 2) - std::pow(s.u_envelope().value(), 2)));
    const auto rises = rises_of(stair);
    const double per_volt = rises.empty() ? 0.0 : std::abs(median_per_volt(rises));
    auto out = make_reading(
        hz, dimension::hertz,
        {{"levels of the harmonics", hz_per_octave * u_fit},
         {"rest of the filter's envelope", hz_per_octave * s.u_envelope().value()},
         {"wave and filter made of samples", u_wave(request, hz)},
         {"bench voltage", hz_per_octave * per_volt * u_of_jack(request, "cutoff").value()}},
        at_volts(s.at));
    out.where = s.at.value();
    return out;
}

std::optional<reading> octaves_per_volt_of(const check_request& request,
                                           std::span<const stair_step> stair) {
    std::vector<double> x, y, rests, bends;
    for (const auto& s : heard_steps(stair)) {
        x.push_back(s.at.value());
        rests.push_back(s.u_envelope().value());
        bends.push_back(u_bent(request, std::exp2(s.cutoff.value())) / std::log(2.0));
        y.push_back(s.cutoff.value());
    }
    const auto line = analysis::fit_line(x, y);
    // What is not known of the envelope lifts all steps together, the first ones most; and what is not
    // of a digital filter the last ones.
    const auto rest = analysis::fit_line(x, rests);
    const auto bend = analysis::fit_line(x, bends);
    if (!line || !rest || !bend) return std::nullopt;
    const auto departures = analysis::departures(*line, x, y);
    const double range = x.back() - x.front();
    const double u_bench = std::sqrt(2.0) * u_of_jack(request, "cutoff").value() / range;
    return make_reading(
        line->slope, dimension::ratio,
        {{"scatter about the line", fewer_steps(departures) * line->u_slope},
         {"rest of the filter's envelope", std::abs(rest->slope)},
         {"wave and filter made of samples", std::abs(bend->slope)},
         {"bench voltage", std::abs(line->slope) * u_bench}},
        fmt::format("{} to {}", at_volts(volts{x.front()}), at_volts(volts{x.back()})));
}

std::optional<reading> dead_zone_of(std::span<const stair_step> stair) {
    const auto rises = rises_of(stair);
    if (rises.size() < 3 || mostly_unheard(stair)) return std::nullopt;
    const double typical = median_per_volt(rises);
    if (!(typical > 0.0)) return std::nullopt;
    const double range = (stair.back().at - stair.front().at).value();
    const double step_volts = range / static_cast<double>(stair.size() - 1);
    // The first or last step may be dead where its end cannot be read.
    const bool open_end = stair.front().unread || stair.back().unread;
    const double u_open_end = open_end ? step_volts / std::sqrt(3.0) : 0.0;
    // Less than this of a step missing is no part of a run: a curve is no dead zone.
    constexpr double part_of_a_run = 0.15;
    double missing = 0.0;
    double variance = 0.0;
    reading worst = make_reading(-1e9, dimension::percent, {});
    for (const auto& r : rises) {
        const double width = (r.to - r.from).value();
        const double here = width - r.octaves_up / typical;
        const bool goes_on =
            missing > part_of_a_run * step_volts && here > part_of_a_run * step_volts;
        missing = goes_on ? missing + here : here;
        variance = (goes_on ? variance : 0.0) + std::pow(r.u / typical, 2);
        const double percent = 100.0 * missing / range;
        if (percent <= worst.value) continue;
        worst = make_reading(percent, dimension::percent,
                             {{"levels of the harmonics", 100.0 * std::sqrt(variance) / range},
                              {"unread end", 100.0 * u_open_end / range}},
                             "up to " + at_volts(r.to));
        worst.where = r.to.value();
    }
    return worst;
}

std::optional<answer> rising_of(std::span<const stair_step> stair) {
    constexpr double counts_octaves = 0.01;
    constexpr double surest = 0.99999;
    const auto rises = rises_of(stair);
    if (rises.empty() || mostly_unheard(stair)) return std::nullopt;
    answer out{
        .text = "rises always", .probability = surest, .probability_of_expected = surest, .at = {}};
    for (const auto& r : rises) {
        const double u = std::max(r.u, 1e-4);
        const double never_falls =
            0.5 * std::erfc(-(r.octaves_up + counts_octaves) / u / std::sqrt(2.0));
        if (never_falls >= out.probability_of_expected) continue;
        out.probability_of_expected = std::max(never_falls, 1.0 - surest);
        out.at = fmt::format("{} to {}", at_volts(r.from), at_volts(r.to));
    }
    if (out.probability_of_expected < 0.5) out.text = fmt::format("falls from {}", out.at);
    out.probability = std::max(out.probability_of_expected, 1.0 - out.probability_of_expected);
    return out;
}

}  // namespace cvrig
