#include <algorithm>
#include <cmath>
#include <optional>

#include "analysis/cycles.hpp"
#include "analysis/envelope.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

/// A record with the places that the attack is read from, all in samples.
struct struck_note {
    std::span<const double> x;
    double rate;
    double period;
    std::size_t gate;
    std::size_t model;  ///< first sample of the cycle that stands for the note after its attack
    double growth;      ///< of that cycle per sample backwards, as the note decays
};

double rms(std::span<const double> x) noexcept {
    double sum = 0.0;
    for (const double v : x) sum += v * v;
    return x.empty() ? 0.0 : std::sqrt(sum / static_cast<double>(x.size()));
}

/// One period after the first from which a whole period is as loud as 97 % of the loudest: the
/// first itself may hold a short attack.
std::size_t find_model_cycle(std::span<const double> x, std::size_t gate, std::size_t period) {
    std::vector<double> energy;
    double sum = 0.0;
    for (std::size_t i = gate; i < x.size(); ++i) {
        sum += x[i] * x[i];
        if (i >= gate + period) sum -= x[i - period] * x[i - period];
        if (i + 1 >= gate + period) energy.push_back(sum);
    }
    const double enough = 0.97 * 0.97 * std::ranges::max(energy);
    const auto at = std::ranges::find_if(energy, [&](double e) { return e >= enough; });
    return gate + static_cast<std::size_t>(at - energy.begin()) + period;
}

/// The note's own cycle, repeated backwards to sample `i`.
double model_at(const struck_note& note, std::size_t i) noexcept {
    const double back = static_cast<double>(note.model) - static_cast<double>(i);
    const double place =
        static_cast<double>(i) + std::max(0.0, std::ceil(back / note.period)) * note.period;
    const double whole = std::floor(place);
    const double f = place - whole;
    const auto k = static_cast<std::size_t>(whole);
    if (k + 1 >= note.x.size()) return 0.0;
    return ((1 - f) * note.x[k] + f * note.x[k + 1]) *
           std::pow(note.growth, std::max(0.0, place - static_cast<double>(i)));
}

struct gain_curve {
    std::vector<double> gain;  ///< per sample from `first`
    std::size_t first;
    std::size_t window;
};

/// Gain of the sound against its model in short windows; where the model itself is near zero the
/// last reading stands.
gain_curve track_gain(const struck_note& note) {
    const auto window = static_cast<std::size_t>(std::max(0.0005 * note.rate, note.period / 16.0));
    const std::size_t first =
        note.gate - std::min(note.gate, static_cast<std::size_t>(0.005 * note.rate));
    const std::size_t last =
        std::min(note.model + 2 * static_cast<std::size_t>(note.period), note.x.size() - 1);
    std::vector<double> own;
    std::vector<double> cross;
    for (std::size_t i = first; i < last; ++i) {
        const double m = model_at(note, i);
        own.push_back(m * m);
        cross.push_back(m * note.x[i]);
    }
    double mean = 0.0;
    for (const double v : own) mean += v / static_cast<double>(own.size());
    gain_curve out{{}, first, window};
    double own_sum = 0.0;
    double cross_sum = 0.0;
    double gain = 0.0;
    for (std::size_t i = 0; i < own.size(); ++i) {
        own_sum += own[i] - (i >= window ? own[i - window] : 0.0);
        cross_sum += cross[i] - (i >= window ? cross[i - window] : 0.0);
        if (own_sum > 0.01 * mean * static_cast<double>(window)) gain = cross_sum / own_sum;
        out.gain.push_back(gain);
    }
    return out;
}

/// Where the curve passes `level`, between samples; `step` says in which direction to look.
double crossing(const gain_curve& c, std::size_t from, double level, int step) {
    auto i = static_cast<std::ptrdiff_t>(from);
    const auto n = static_cast<std::ptrdiff_t>(c.gain.size());
    while (i > 0 && i + 1 < n && (c.gain[static_cast<std::size_t>(i)] < level) == (step > 0))
        i += step;
    const auto k = static_cast<std::size_t>(step > 0 ? std::max<std::ptrdiff_t>(i - 1, 0) : i);
    const double low = c.gain[k];
    const double high = c.gain[std::min(k + 1, c.gain.size() - 1)];
    const double f = high > low ? std::clamp((level - low) / (high - low), 0.0, 1.0) : 0.0;
    return static_cast<double>(k) + f;
}

struct attack_marks {
    double t10_samples, t90_samples;
};

std::optional<attack_marks> find_marks(const gain_curve& c) {
    const auto half = std::ranges::find_if(c.gain, [](double g) { return g > 0.5; });
    if (half == c.gain.end() || half == c.gain.begin()) return std::nullopt;
    const auto middle = static_cast<std::size_t>(half - c.gain.begin());
    const double shift = static_cast<double>(c.first) - 0.5 * static_cast<double>(c.window - 1);
    return attack_marks{crossing(c, middle, 0.1, -1) + shift, crossing(c, middle, 0.9, 1) + shift};
}

attack_reading read_marks(const attack_marks& marks, const gain_curve& c, double rate) {
    const double window = static_cast<double>(c.window);
    const double apparent = marks.t90_samples - marks.t10_samples;
    // A box window turns a step into a ramp whose 10-90 % time is 0.8 of its length.
    const double smear = 0.8 * window;
    const double rise = std::sqrt(std::max(apparent * apparent - smear * smear, 0.0));
    const double onset = marks.t10_samples +
                         0.4 * window * std::min(1.0, smear / std::max(apparent, 1.0)) -
                         rise / 12.0;
    const double u = std::hypot(0.04 * rise, window / std::sqrt(12.0));
    return {seconds{onset / rate}, seconds{u / rate}, seconds{rise / rate}, volts{}};
}

volts peak_after_gate(const struck_note& note, seconds onset) {
    const double reach = std::max(4.0 * note.period, 0.060 * note.rate);
    const auto end = static_cast<std::size_t>(std::max(0.0, onset.value() * note.rate + reach));
    double peak = 0.0;
    for (std::size_t i = note.gate; i < std::min(end, note.x.size()); ++i) {
        peak = std::max(peak, std::abs(note.x[i]));
    }
    return volts{peak};
}

std::optional<refusal> unusable(std::span<const double> x, sample_rate rate, hertz pitch,
                                seconds gate_at) {
    const bool sane = pitch.value() >= 20.0 && pitch.value() <= rate.value() / 12.0;
    if (!sane || !(gate_at.value() >= 0.005)) return refusal::bad_argument;
    const double length_s = static_cast<double>(x.size()) / rate.value();
    if (length_s < gate_at.value() + std::max(0.06, 4.0 / pitch.value())) return refusal::too_short;
    if (!all_finite(x)) return refusal::not_finite;
    return std::nullopt;
}

}  // namespace

outcome<attack_reading> measure_attack(std::span<const double> volts, sample_rate rate, hertz pitch,
                                       seconds gate_at) {
    if (const auto why = unusable(volts, rate, pitch, gate_at)) return refuse(*why);
    const double fs = rate.value();
    const auto gate = static_cast<std::size_t>(gate_at.value() * fs);
    const double length_s = static_cast<double>(volts.size()) / fs;
    const seconds until{std::min(length_s, gate_at.value() + std::max(0.25, 8.0 / pitch.value()))};
    const auto period = static_cast<std::size_t>(std::round(fs / pitch.value()));
    const std::size_t model =
        find_model_cycle(volts.first(static_cast<std::size_t>(until.value() * fs)), gate, period);

    if (model + 2 * period > volts.size()) return refuse(refusal::too_short);
    const auto exact =
        held_pitch(volts, rate, pitch, seconds{static_cast<double>(model) / fs}, until);
    if (!exact) return refuse(exact.error());
    const double before = rms(volts.first(gate));
    const double after = rms(volts.subspan(model, period));
    if (!(before < 0.1 * after)) return refuse(refusal::no_fit);
    const double next = rms(volts.subspan(model + period, period));
    const double growth =
        std::pow(std::clamp(after / next, 1.0, 2.0), 1.0 / static_cast<double>(period));
    const struck_note note{volts, fs, fs / exact->value(), gate, model, growth};
    const gain_curve curve = track_gain(note);
    const auto marks = find_marks(curve);
    if (!marks) return refuse(refusal::no_fit);
    attack_reading out = read_marks(*marks, curve, fs);
    out.peak = peak_after_gate(note, out.onset);
    return out;
}

}  // namespace cvrig::analysis
