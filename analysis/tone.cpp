#include "analysis/tone.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <optional>

#include "analysis/samples.hpp"
#include "analysis/tone_octave.hpp"
#include "analysis/tone_search.hpp"

namespace cvrig::analysis {
namespace {

constexpr std::size_t least_samples = 32;
constexpr double least_periods = 1.8;
constexpr double used_decay = 2.5;  // nepers per half record; past that the tail is noise

std::optional<refusal> unusable(std::span<const double> volts, sample_rate rate,
                                const tone_request& request) {
    const bool sane = std::isfinite(rate.value()) && rate.value() > 0.0 &&
                      request.lowest.value() > 0.0 && request.highest > request.lowest &&
                      request.highest < rate.nyquist() && request.mains.value() >= 0.0 &&
                      request.most_harmonics > 0;
    if (!sane) return refusal::bad_argument;
    if (volts.size() < least_samples) return refusal::too_short;
    if (!all_finite(volts)) return refusal::not_finite;
    return std::nullopt;
}

double mean_of(std::span<const double> samples) {
    return std::accumulate(samples.begin(), samples.end(), 0.0) /
           static_cast<double>(samples.size());
}

/// Without their mean, so that offset costs no digits.
std::vector<double> centred(std::span<const double> volts, double mean) {
    std::vector<double> out(volts.begin(), volts.end());
    for (double& v : out) v -= mean;
    return out;
}

/// What one fit needs to know, in the record's own units.
struct prepared {
    std::vector<double> samples;  // without mean
    double mean{0};
    double energy{0};
    double decay{0};  // nepers per half record
    double seconds_long{0};
};

double squares(std::span<const double> x) {
    return std::inner_product(x.begin(), x.end(), x.begin(), 0.0);
}

/// exp(-2 decay u) holds exp(2 decay) times as much power before the middle as after it.
double decay_by_halves(std::span<const double> x) {
    const double first = squares(x.first(x.size() / 2));
    const double second = squares(x.last(x.size() / 2));
    if (first <= 0.0 || second <= 0.0) return 0.0;
    return std::clamp(0.5 * std::log(first / second), -steepest_decay, steepest_decay);
}

prepared prepare(std::span<const double> volts_in, sample_rate rate, bool may_decay) {
    prepared p;
    p.mean = mean_of(volts_in);
    p.samples = centred(volts_in, p.mean);
    p.energy = squares(p.samples);
    if (may_decay) p.decay = decay_by_halves(p.samples);
    p.seconds_long = static_cast<double>(p.samples.size()) / rate.value();
    return p;
}

search_range range_of(const prepared& p, const tone_request& request) {
    return {std::max(request.lowest.value() * p.seconds_long, least_periods),
            request.highest.value() * p.seconds_long, request.mains.value() * p.seconds_long};
}

/// Could chance have given this? Each parameter of a fit to noise takes about one variance, and the
/// best of all possible pitches some dozens.
bool stands_out(const prepared& p, const tone_fit& fit) {
    const double parameters = 2.0 * static_cast<double>(fit.lines.harmonics) + 2.0;
    return p.energy - fit.residual > (100.0 + 6.0 * parameters) * fit.variance;
}

/// Is all of it steady and on the mains lines? Then it is no note, whatever its strength.
bool is_hum(const tone_fit& fit, double mains_cycles) {
    if (mains_cycles <= 0.0 || std::abs(fit.lines.decay) > 0.1) return false;
    double all = 0.0;
    double elsewhere = 0.0;
    for (Eigen::Index k = 0; k < fit.amplitudes.harmonics.size(); ++k) {
        const double lines =
            fit.lines.pitch / std::numbers::pi * static_cast<double>(k + 1) / mains_cycles;
        const double line = std::round(lines);
        const bool on_line = line >= 1.0 && line <= 3.0 && std::abs(lines - line) < 0.004 * line;
        const double power = std::norm(fit.amplitudes.harmonics(k));
        all += power;
        if (!on_line) elsewhere += power;
    }
    return elsewhere < 1e-4 * all;
}

outcome<tone_fit> fitted(const prepared& p, const tone_request& request) {
    const double n = static_cast<double>(p.samples.size());
    if (p.energy <= 1e-24 * p.mean * p.mean * n || p.energy == 0.0) return refuse(refusal::silent);
    const search_range range = range_of(p, request);
    if (range.highest < least_periods) return refuse(refusal::too_short);
    const continuous_spectrum spectrum{p.samples};
    const auto candidates = find_pitches(spectrum, range);
    if (candidates.empty()) return refuse(refusal::no_pitch);
    const pitch_candidate& best = candidates.front();
    const tone_start start{std::numbers::pi * best.cycles,
                           p.decay,
                           std::numbers::pi * range.mains,
                           std::min(best.harmonics, request.most_harmonics),
                           p.energy,
                           request.may_decay,
                           request.most_harmonics};
    tone_fit fit = fit_true_octave(spectrum, start, range.lowest, range.highest);
    if (!stands_out(p, fit) || is_hum(fit, range.mains)) return refuse(refusal::no_pitch);
    if (!fit.converged) return refuse(refusal::no_fit);
    return fit;
}

tone_reading reading_of(const prepared& p, const tone_fit& fit, double whole_seconds) {
    tone_reading reading;
    const double n = static_cast<double>(p.samples.size());
    const double hertz_per_unit = 1.0 / (std::numbers::pi * p.seconds_long);
    reading.pitch = hertz{fit.lines.pitch * hertz_per_unit};
    reading.u_pitch =
        hertz{std::sqrt(fit.pitch_variance * std::max(fit.colour, 1.0)) * hertz_per_unit};
    reading.decay = per_second{fit.lines.decay * 2.0 / p.seconds_long};
    reading.periods = reading.pitch.value() * whole_seconds;
    reading.dc = volts{p.mean + fit.amplitudes.foreign[0].real()};
    reading.residual_rms = volts{std::sqrt(fit.residual / n)};
    // From the middle of the part used to the middle of the whole record.
    const double shift = 0.5 * (whole_seconds - p.seconds_long);
    const double gain = std::exp(-std::abs(reading.decay.value()) * shift);
    for (const auto& a : fit.amplitudes.harmonics)
        reading.harmonics.emplace_back(gain * std::abs(a));
    reading.snr = decibels{10.0 * std::log10((p.energy - fit.residual) / fit.residual)};
    return reading;
}

/// The loud end of a note that decays (or grows) so much that the rest holds noise only.
std::span<const double> loud_part(std::span<const double> volts_in, double nepers_per_half) {
    const double share =
        std::abs(nepers_per_half) >= steepest_decay ? 0.5 : used_decay / std::abs(nepers_per_half);
    const auto count = static_cast<std::size_t>(share * static_cast<double>(volts_in.size()));
    return nepers_per_half > 0.0 ? volts_in.first(count) : volts_in.last(count);
}

}  // namespace

cents tone_reading::u_cents() const {
    return cents{1200.0 / std::numbers::ln2 * (u_pitch / pitch)};
}

outcome<tone_reading> measure_tone(std::span<const double> volts_in, sample_rate rate,
                                   const tone_request& request) {
    if (const auto reason = unusable(volts_in, rate, request)) return refuse(*reason);
    std::span<const double> used = volts_in;
    for (;;) {
        const prepared p = prepare(used, rate, request.may_decay);
        if (std::abs(p.decay) >= steepest_decay && used.size() >= 2 * least_samples) {
            used = loud_part(used, p.decay);
            continue;
        }
        const outcome<tone_fit> fit = fitted(p, request);
        if (!fit) return refuse(fit.error());
        if (std::abs(fit->lines.decay) <= used_decay * 1.05 || used.size() < 2 * least_samples)
            return reading_of(p, *fit, static_cast<double>(volts_in.size()) / rate.value());
        used = loud_part(used, fit->lines.decay);
    }
}

}  // namespace cvrig::analysis
