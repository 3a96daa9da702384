#include "analysis/centroid.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/fit.hpp"
#include "analysis/harmonics.hpp"

namespace cvrig::analysis {

namespace {

constexpr double highest_part_of_rate = 0.42;
constexpr double standing_out = 10.0;
constexpr double most_harmonics = 60.0;

std::size_t harmonics_below(sample_rate rate, hertz pitch) {
    return static_cast<std::size_t>(
        std::min(most_harmonics, std::floor(highest_part_of_rate * rate.value() / pitch.value())));
}

outcome<harmonic_meter> meter_for(std::size_t samples, sample_rate rate, hertz pitch) {
    if (!(pitch.value() > 0.0)) return refuse(refusal::bad_argument);
    return harmonic_meter::prepared(samples, rate, pitch,
                                    std::max<std::size_t>(1, harmonics_below(rate, pitch)));
}

outcome<centroid_reading> centroid_of(const harmonic_set& levels) {
    const double u = levels.u_peak.value();
    double sum = 0.0;
    double moment = 0.0;
    double squares = 0.0;
    for (std::size_t i = 0; i < levels.harmonics.size(); ++i) {
        const double peak = levels.harmonics[i].peak.value();
        if (peak < standing_out * u) continue;
        sum += peak;
        moment += static_cast<double>(i + 1) * peak;
        squares += peak * peak;
    }
    if (!(sum > 0.0)) return refuse(refusal::silent);
    const double centre = moment / sum;
    double variance = 0.0;
    for (std::size_t i = 0; i < levels.harmonics.size(); ++i) {
        if (levels.harmonics[i].peak.value() < standing_out * u) continue;
        const double lever = (static_cast<double>(i + 1) - centre) / sum;
        variance += lever * lever * u * u;
    }
    return centroid_reading{levels.harmonics.front().peak, volts{std::sqrt(squares / 2.0)}, centre,
                            std::sqrt(variance)};
}

}  // namespace

outcome<centroid_reading> measure_centroid(std::span<const double> record, sample_rate rate,
                                           hertz pitch) {
    const auto meter = meter_for(record.size(), rate, pitch);
    if (!meter) return refuse(meter.error());
    const auto levels = meter->levels(record);
    if (!levels) return refuse(levels.error());
    return centroid_of(*levels);
}

outcome<changing_centroid> measure_changing_centroid(std::span<const double> record,
                                                     sample_rate rate, hertz pitch) {
    constexpr std::size_t places = 8;
    constexpr double fewest_periods = 3.0;
    if (!(pitch.value() > 0.0)) return refuse(refusal::bad_argument);
    const double period = rate.value() / pitch.value();
    const double periods = std::floor(static_cast<double>(record.size()) / period) - 1.0;
    if (periods < fewest_periods) return refuse(refusal::too_short);
    const auto window = static_cast<std::size_t>(std::llround(periods * period));
    const double first = 0.5 * (static_cast<double>(record.size()) - (periods + 1.0) * period);
    const auto meter = meter_for(window, rate, pitch);
    if (!meter) return refuse(meter.error());
    std::vector<double> at, logarithms;
    double u_relative = 0.0;
    for (std::size_t i = 0; i < places; ++i) {
        const double place = (static_cast<double>(i) + 0.5) / static_cast<double>(places);
        const auto begin = static_cast<std::size_t>(std::llround(first + place * period));
        const auto levels =
            meter->levels(record.subspan(std::min(begin, record.size() - window), window));
        if (!levels) return refuse(levels.error());
        const auto centre = centroid_of(*levels);
        if (!centre) return refuse(centre.error());
        at.push_back(place - 0.5);
        logarithms.push_back(std::log(centre->harmonic));
        u_relative = std::max(u_relative, centre->u_harmonic / centre->harmonic);
    }
    const auto line = fit_line(at, logarithms);
    if (!line) return refuse(line.error());
    // The places lie evenly about 0, so that the line's height there is their mean.
    const double harmonic = std::exp(line->intercept);
    return changing_centroid{harmonic, harmonic * u_relative, harmonic * line->u_intercept};
}

}  // namespace cvrig::analysis
