#include "analysis/note_edge.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "analysis/edge_fit.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

struct quiet {
    double offset, noise;
};

std::size_t sample_at(seconds t, sample_rate rate, std::size_t size) {
    return std::min(size, static_cast<std::size_t>(std::max(0.0, t.value() * rate.value())));
}

std::optional<refusal> unusable(std::span<const double> volts, std::span<const double> silence,
                                sample_rate rate, const edge_request& request) {
    const bool sane = request.pitch.value() > 20.0 && request.pitch.value() < 0.1 * rate.value() &&
                      request.from.value() >= 0.0 && request.to > request.from;
    if (!sane) return refusal::bad_argument;
    if (silence.size() < 16) return refusal::too_short;
    // Only what is read: one record may be asked about many notes.
    const std::size_t first = sample_at(request.from, rate, volts.size());
    const std::size_t end = std::max(first, sample_at(request.to, rate, volts.size()));
    if (!all_finite(volts.subspan(first, end - first)) || !all_finite(silence))
        return refusal::not_finite;
    return std::nullopt;
}

quiet rest_of(std::span<const double> silence) {
    return {mean(silence), deviation(silence)};
}

/// Root mean square of whole periods, one for each sample at which a period may begin.
std::vector<double> period_levels(std::span<const double> x, double offset, std::size_t period) {
    std::vector<double> out;
    double sum = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        sum += (x[i] - offset) * (x[i] - offset);
        if (i >= period) sum -= (x[i - period] - offset) * (x[i - period] - offset);
        if (i + 1 >= period)
            out.push_back(std::sqrt(std::max(0.0, sum) / static_cast<double>(period)));
    }
    return out;
}

note_edge in_seconds(const edge_fit& fit, std::size_t first, sample_rate rate) {
    const double fs = rate.value();
    return {seconds{(static_cast<double>(first) + fit.at_samples) / fs},
            seconds{fit.u_at_samples / fs}, seconds{fit.time_samples / fs}, fit.shape};
}

}  // namespace

outcome<note_edge> measure_note_start(std::span<const double> volts,
                                      std::span<const double> silence, sample_rate rate,
                                      const edge_request& request) {
    if (const auto why = unusable(volts, silence, rate, request)) return refuse(*why);
    const auto rest = rest_of(silence);
    const std::size_t first = sample_at(request.from, rate, volts.size());
    const std::size_t end = sample_at(request.to, rate, volts.size());
    const auto period = static_cast<std::size_t>(std::lround(rate.value() / request.pitch.value()));
    if (end < first + 10 * period) return refuse(refusal::too_short);
    const auto levels = period_levels(volts.subspan(first, end - first), rest.offset, period);
    const double loudest = std::ranges::max(levels);
    if (!(loudest > 8.0 * rest.noise) || !(loudest > 0.0)) return refuse(refusal::silent);
    if (!(levels.front() < 0.3 * loudest)) return refuse(refusal::no_fit);
    const auto held = std::ranges::find_if(levels, [&](double v) { return v > 0.97 * loudest; });
    const std::size_t held_from = first + static_cast<std::size_t>(held - levels.begin()) + period;
    const auto wave =
        read_held_wave(volts, rest.offset, rate, request.pitch,
                       seconds{static_cast<double>(held_from) / rate.value()}, request.to);
    if (!wave) return refuse(wave.error());
    const std::size_t until = std::min(end, held_from + period);
    std::vector<double> x(volts.begin() + static_cast<std::ptrdiff_t>(first),
                          volts.begin() + static_cast<std::ptrdiff_t>(until));
    for (double& v : x) v -= rest.offset;
    return fit_edge(x, wave->continued(first, until), static_cast<double>(period), rest.noise)
        .map([&](const edge_fit& fit) { return in_seconds(fit, first, rate); });
}

outcome<note_edge> measure_note_end(std::span<const double> volts, std::span<const double> silence,
                                    sample_rate rate, const edge_request& request) {
    if (const auto why = unusable(volts, silence, rate, request)) return refuse(*why);
    const auto rest = rest_of(silence);
    const auto wave =
        read_held_wave(volts, rest.offset, rate, request.pitch, request.from, request.edge_after);
    if (!wave) return refuse(wave.error());
    if (!(wave->rms().value() > 8.0 * rest.noise)) return refuse(refusal::silent);
    // Half the held stretch goes with the fit, so that a release that is early is not missed.
    const std::size_t first = (wave->from() + wave->to()) / 2;
    const std::size_t end = sample_at(request.to, rate, volts.size());
    if (end < first + 16) return refuse(refusal::too_short);
    const auto m = wave->continued(first, end);
    std::vector<double> missing(m.size());
    for (std::size_t i = 0; i < m.size(); ++i) missing[i] = m[i] - (volts[first + i] - rest.offset);
    const double period = rate.value() / request.pitch.value();
    return fit_edge(missing, m, period, rest.noise).map([&](const edge_fit& fit) {
        return in_seconds(fit, first, rate);
    });
}

}  // namespace cvrig::analysis
