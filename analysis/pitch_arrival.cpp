#include "analysis/pitch_arrival.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "analysis/edge_fit.hpp"
#include "analysis/samples.hpp"
#include "analysis/strike_count.hpp"

namespace cvrig::analysis {
namespace {

constexpr std::size_t table_points = 2048;
constexpr double largest_unlikeness = 0.2;
constexpr double audible_share = 0.1;  // of the held level: what a note begins beyond

/// The beginning of a note, with what a change of its pitch at some moment would make of it.
class scene {
public:
    scene(std::span<const double> volts, double offset, const held_wave& wave, double before,
          double after, std::size_t first, std::size_t end)
        : first_{static_cast<double>(first)},
          table_{wave.cycle(static_cast<double>(wave.from()), table_points)},
          origin_{static_cast<double>(wave.from())},
          before_{before},
          after_{after} {
        for (std::size_t i = first; i < std::min(end, volts.size()); ++i) {
            x_.push_back(volts[i] - offset);
            power_ += x_.back() * x_.back();
        }
        const auto level = follow_fundamental(x_, sample_rate{1.0}, hertz{after_});
        for (std::size_t i = 0; i < x_.size(); ++i) {
            const auto k = static_cast<double>(i) / level.spacing.value();
            weight_.push_back(level.peak_volts[std::min(static_cast<std::size_t>(k),
                                                        level.peak_volts.size() - 1)]);
        }
    }

    [[nodiscard]] std::span<const double> record() const noexcept { return x_; }
    [[nodiscard]] double period_samples() const noexcept { return 1.0 / after_; }

    /// The wave that changes its pitch at sample `change` of the record.
    [[nodiscard]] std::vector<double> wave(double change) const {
        std::vector<double> out(x_.size());
        for (std::size_t i = 0; i < out.size(); ++i) out[i] = at(i, change);
        return out;
    }

    /// From now on the record is taken to be as loud as this edge says.
    void weigh(const edge_fit& edge) {
        for (std::size_t i = 0; i < weight_.size(); ++i) {
            const double u = (static_cast<double>(i) - edge.at_samples) / edge.time_samples;
            weight_[i] = u <= 0.0                             ? 0.0
                         : edge.shape == edge_shape::straight ? std::min(u, 1.0)
                                                              : 1.0 - std::exp(-u);
        }
    }

    /// Part of the record's power that such a wave does not explain.
    [[nodiscard]] double unlikeness(double change) const {
        double cross = 0.0;
        double own = 0.0;
        for (std::size_t i = 0; i < x_.size(); ++i) {
            if (weight_[i] == 0.0) continue;
            const double m = weight_[i] * at(i, change);
            cross += m * x_[i];
            own += m * m;
        }
        if (!(own > 0.0) || !(power_ > 0.0) || cross <= 0.0) return 1.0;
        return std::max(0.0, 1.0 - cross * cross / own / power_);
    }

private:
    [[nodiscard]] double at(std::size_t i, double change) const noexcept {
        const double now = static_cast<double>(i);
        const double there = std::max(now, change) + first_ - origin_;
        const double phase = there * after_ + std::min(0.0, now - change) * before_;
        const double place = (phase - std::floor(phase)) * static_cast<double>(table_points);
        const auto k = static_cast<std::size_t>(place);
        const double a = table_[k % table_points];
        return a + (place - static_cast<double>(k)) * (table_[(k + 1) % table_points] - a);
    }

    double first_;
    std::vector<double> table_, x_, weight_;
    double origin_, before_, after_;
    double power_{0.0};
};

/// The likeliest moment between `from` and `to`, in samples of the record.
double likeliest_change(const scene& s, double from, double to, double step) {
    double best = from;
    double least = s.unlikeness(from);
    const auto look = [&](double c) {
        const double u = s.unlikeness(c);
        if (!(u < least)) return;
        least = u;
        best = c;
    };
    for (double c = from + step; c <= to; c += step) look(c);
    for (double d = step / 2.0; d > 0.05; d /= 2.0) {
        const double centre = best;
        look(centre - d);
        look(centre + d);
    }
    return best;
}

/// Change and edge by turns, since each is read with the help of the other.
struct beginning {
    double change;
    edge_fit edge;
};

outcome<beginning> fit_beginning(scene& s, double from, double to, double rate, double noise) {
    double change = likeliest_change(s, from, to, 0.0004 * rate);
    for (int turn = 0;; ++turn) {
        const auto edge = fit_edge(s.record(), s.wave(change), s.period_samples(), noise);
        if (!edge) return refuse(edge.error());
        if (turn == 2) return beginning{change, *edge};
        s.weigh(*edge);
        const double reach = (turn == 0 ? 0.002 : 0.0003) * rate;
        change = likeliest_change(s, change - reach, change + reach, 0.25 * reach);
    }
}

}  // namespace

outcome<pitch_arrival> measure_pitch_arrival(std::span<const double> volts,
                                             std::span<const double> silence, sample_rate rate,
                                             const arrival_request& request) {
    const double fs = rate.value();
    const bool sane = request.before.value() > 20.0 && request.after.value() > 20.0 &&
                      request.after.value() < 0.1 * fs && request.from.value() >= 0.0 &&
                      request.to > request.from;
    if (!sane) return refuse(refusal::bad_argument);
    if (silence.size() < 16) return refuse(refusal::too_short);
    // Only what is read: one record may be asked about many notes.
    const auto part = [&](seconds t) {
        return std::min(volts.size(), static_cast<std::size_t>(std::max(0.0, t.value()) * fs));
    };
    if (!all_finite(volts.subspan(part(request.from), part(request.to) - part(request.from))) ||
        !all_finite(silence))
        return refuse(refusal::not_finite);
    const double offset = mean(silence);
    const double noise = deviation(silence);
    // The last eight periods and a half are the note as it stays.
    const seconds held{8.5 / request.after.value()};
    if (request.to - held < request.from) return refuse(refusal::too_short);
    const auto wave =
        read_held_wave(volts, offset, rate, request.after, request.to - held, request.to);
    if (!wave) return refuse(wave.error());
    if (!(wave->rms().value() > 8.0 * noise)) return refuse(refusal::silent);
    const auto first = static_cast<std::size_t>(request.from.value() * fs);
    // Where the sound begins, roughly: the search for the change need not go back further.
    const double audible = std::max(8.0 * noise, audible_share * wave->rms().value());
    std::size_t rough = first;
    while (rough < wave->from() && std::abs(volts[rough] - offset) < audible) ++rough;
    if (rough == first) return refuse(refusal::no_fit);
    const auto settled = static_cast<std::size_t>((request.longest.value() + 0.006) * fs);
    scene s{volts,
            offset,
            *wave,
            request.before.value() / fs,
            wave->pitch().value() / fs,
            first,
            std::min(wave->to(), rough + settled)};
    const auto onset = static_cast<double>(rough - first);
    const auto found =
        fit_beginning(s, onset - 0.0005 * fs, onset + request.longest.value() * fs, fs, noise);
    // Not even a pitch that changes explains how it begins: it has a third one, or changes later.
    if (!found || s.unlikeness(found->change) > largest_unlikeness)
        return refuse(refusal::no_pitch);
    const auto& edge = found->edge;
    const double start = static_cast<double>(first) + edge.at_samples;
    // What the wave leaves unexplained, taken as an error of its phase while it was wrong.
    const double apart = std::abs(wave->pitch().value() - request.before.value()) / fs;
    const double phase = std::sqrt(s.unlikeness(found->change)) / (2.0 * std::numbers::pi);
    return pitch_arrival{{seconds{start / fs}, seconds{edge.u_at_samples / fs},
                          seconds{edge.time_samples / fs}, edge.shape},
                         seconds{std::max(0.0, found->change - edge.at_samples) / fs},
                         seconds{std::hypot(edge.u_at_samples, 0.1 * phase / apart) / fs}};
}

}  // namespace cvrig::analysis
