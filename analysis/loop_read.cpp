#include <algorithm>
#include <array>
#include <cmath>

#include "analysis/fit.hpp"
#include "analysis/loop_sequence.hpp"
#include "analysis/loop_track.hpp"

namespace cvrig::analysis {

namespace {

constexpr std::size_t shortest_sequence = 1024;

// What the definition of delay by the slope of the phase leaves open for a path that is not exactly
// symmetrical, in samples; and for its gain, in parts of the gain.
constexpr double delay_floor = 1e-4;
constexpr double gain_floor = 1e-5;

// Sent samples a recorded sample, where playing and recording run at different standard rates.
constexpr std::array other_ratios{44.1 / 48.0, 48.0 / 44.1, 0.5, 2.0};

float cubic_at(std::span<const float> x, double place) {
    const auto whole = std::floor(place);
    const auto at = [&](std::ptrdiff_t i) {
        const auto last = static_cast<std::ptrdiff_t>(x.size()) - 1;
        return static_cast<double>(
            x[static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(i, 0, last))]);
    };
    const auto i = static_cast<std::ptrdiff_t>(whole);
    const double t = place - whole;
    const double a = at(i - 1), b = at(i), c = at(i + 1), d = at(i + 2);
    const double slope_b = (c - a) / 2;
    const double slope_c = (d - b) / 2;
    return static_cast<float>(b + t * (slope_b + t * (3 * (c - b) - 2 * slope_b - slope_c +
                                                      t * (2 * (b - c) + slope_b + slope_c))));
}

std::vector<float> at_sent_rate(std::span<const float> heard, double sent_per_heard) {
    std::vector<float> out(
        static_cast<std::size_t>(static_cast<double>(heard.size()) * sent_per_heard));
    for (std::size_t n = 0; n < out.size(); ++n)
        out[n] = cubic_at(heard, static_cast<double>(n) / sent_per_heard);
    return out;
}

double weight(double u) {
    return 1.0 / (u * u);
}

// Latency against time; the scatter of the blocks and the noise in each both say how sure it is.
void read_latency(const loop_track& track, loop_reading& out) {
    std::vector<double> x, y, w;
    for (const auto& b : track.blocks) {
        const double u = std::hypot(b.u_latency, delay_floor);
        x.push_back(b.centre_sample);
        y.push_back(b.latency_samples);
        w.push_back(weight(u));
    }
    const auto line = fit_line(x, y, w);
    if (!line) {
        out.latency_samples = y.front();
        out.u_latency_samples = 1.0 / std::sqrt(w.front());
        out.u_rate_error = INFINITY;
        return;
    }
    const auto start = line->predict(static_cast<double>(track.first_sample));
    out.latency_samples = start.value;
    out.rate_error = line->slope;
    // residual_sd is that of a point of weight 1: 1 if the blocks scatter as their noise says.
    const double scale = line->residual_sd > 0.0 ? std::max(1.0, 1.0 / line->residual_sd) : 1.0;
    out.u_latency_samples = std::hypot(scale * start.standard_uncertainty, delay_floor);
    out.u_rate_error = scale * line->u_slope;
}

void read_gain(const loop_track& track, double amplitude, loop_reading& out) {
    double sum_w = 0.0;
    double sum = 0.0;
    for (const auto& b : track.blocks) {
        const double w = weight(std::hypot(b.u_gain, gain_floor * b.gain));
        sum_w += w;
        sum += w * b.gain;
    }
    const double mean = sum / sum_w;
    double squares = 0.0;
    for (const auto& b : track.blocks)
        squares +=
            weight(std::hypot(b.u_gain, gain_floor * b.gain)) * (b.gain - mean) * (b.gain - mean);
    const auto count = static_cast<double>(track.blocks.size());
    const double excess = count > 1.0 ? std::max(1.0, squares / (count - 1.0)) : 1.0;
    out.gain = mean / amplitude;
    out.u_gain = std::hypot(std::sqrt(excess / sum_w), gain_floor * mean) / std::abs(amplitude);
}

loop_reading reading_of(loop_track track, double amplitude) {
    loop_reading out;
    read_latency(track, out);
    read_gain(track, amplitude, out);
    out.offset = track.offset;
    out.noise_rms = std::sqrt(track.noise_power);
    out.breaks = std::move(track.breaks);
    return out;
}

// Back to the record's own samples: sent = ratio * heard, so 1 - ratio is lost a sample.
loop_reading on_record(loop_reading r, double ratio) {
    r.latency_samples /= ratio;
    r.u_latency_samples /= ratio;
    r.rate_error = 1.0 - ratio * (1.0 - r.rate_error);
    r.u_rate_error *= ratio;
    for (auto& b : r.breaks) {
        b.at_sample = static_cast<std::size_t>(static_cast<double>(b.at_sample) / ratio);
        b.unreadable_samples =
            static_cast<std::size_t>(static_cast<double>(b.unreadable_samples) / ratio);
    }
    return r;
}

bool is_silent(std::span<const float> heard) {
    const auto [lowest, highest] = std::ranges::minmax(heard);
    return lowest == highest;
}

// An eighth of the sequence at least: less may be a chance likeness.
outcome<loop_track> follow(const loop_signal& s) {
    auto track = follow_loop(s);
    if (!track) return track;
    double samples = 0.0;
    for (const auto& b : track->blocks) samples += b.samples;
    if (samples * 8.0 < static_cast<double>(s.sent.size())) return refuse(refusal::no_fit);
    return track;
}

}  // namespace

outcome<loop_reading> read_loop(std::span<const float> heard, double amplitude,
                                std::size_t sent_samples, std::size_t first) {
    if (!std::isfinite(amplitude) || amplitude == 0.0) return refuse(refusal::bad_argument);
    if (sent_samples < shortest_sequence || heard.size() < shortest_sequence)
        return refuse(refusal::too_short);
    if (!std::ranges::all_of(heard, [](float v) { return std::isfinite(v); }))
        return refuse(refusal::not_finite);
    if (is_silent(heard)) return refuse(refusal::silent);
    const auto sequence = loop_sequence(sent_samples, first);
    const auto parts = split_by_mean(sequence, true);
    if (auto track = follow({heard, sequence, parts}))
        return reading_of(std::move(*track), amplitude);
    for (const double ratio : other_ratios) {
        const auto resampled = at_sent_rate(heard, ratio);
        if (auto track = follow({resampled, sequence, parts}))
            return on_record(reading_of(std::move(*track), amplitude), ratio);
    }
    return refuse(refusal::no_fit);
}

}  // namespace cvrig::analysis
