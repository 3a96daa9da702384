#include "analysis/short_note.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "analysis/samples.hpp"
#include "analysis/short_phase.hpp"

namespace cvrig::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;

/// The record times exp(-2 pi i cycles), and the expected cycles up to each sample.
struct demodulated {
    std::vector<std::complex<double>> values;
    std::vector<double> cycles;
};

demodulated demodulate(std::span<const double> record, sample_rate rate,
                       const expected_pitch& expected) {
    demodulated out;
    out.values.reserve(record.size());
    out.cycles.reserve(record.size());
    double mean = 0.0;
    for (const double v : record) mean += v / static_cast<double>(record.size());
    const bool stands = expected.from == expected.to;
    const double octaves = std::log2(expected.from / expected.to);
    const double kept =
        stands ? 1.0 : std::exp(-1.0 / (rate.value() * expected.time_constant.value()));
    double left = stands ? 0.0 : std::exp(-expected.age / expected.time_constant);
    const double step = expected.to.value() / rate.value();
    const std::complex<double> turn = std::polar(1.0, -two_pi * step);
    std::complex<double> phasor{1.0, 0.0};
    double cycles = 0.0;
    for (const double v : record) {
        out.values.push_back((v - mean) * phasor);
        out.cycles.push_back(cycles);
        if (stands) {
            cycles += step;
            phasor *= turn;
        } else {
            cycles += step * std::exp2(octaves * left);
            left *= kept;
            phasor = std::polar(1.0, -two_pi * cycles);
        }
    }
    return out;
}

struct straight_line {
    double slope, u_slope, rms;
};

// Neighbours share most of their samples: those of one window are worth about one.
straight_line line_through(const phase_track& found) {
    const auto& x = found.cycles;
    const auto& y = found.phase;
    const auto n = static_cast<double>(x.size());
    double mean_x = 0.0, mean_y = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        mean_x += x[i] / n;
        mean_y += y[i] / n;
    }
    double xx = 0.0, xy = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        xx += (x[i] - mean_x) * (x[i] - mean_x);
        xy += (x[i] - mean_x) * (y[i] - mean_y);
    }
    const double slope = xy / xx;
    double squares = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double off = y[i] - mean_y - slope * (x[i] - mean_x);
        squares += off * off;
    }
    const double variance = squares / std::max(1.0, n - 2.0);
    return {slope, std::sqrt(found.hops_in_window * variance / xx), std::sqrt(squares / n)};
}

double power_of(std::span<const double> record) {
    double sum = 0.0, squares = 0.0;
    for (const double v : record) {
        sum += v;
        squares += v * v;
    }
    const auto n = static_cast<double>(record.size());
    return squares / n - sum / n * (sum / n);
}

}  // namespace

hertz expected_pitch::at(seconds since_first_sample) const noexcept {
    if (from == to) return to;
    const double left = std::exp(-(age + since_first_sample) / time_constant);
    return to * std::exp2(std::log2(from / to) * left);
}

outcome<short_note_reading> read_short_note(std::span<const double> record, sample_rate rate,
                                            const expected_pitch& expected) {
    if (!(rate.value() > 0.0) || !(expected.from.value() > 0.0) || !(expected.to.value() > 0.0))
        return refuse(refusal::bad_argument);
    if (expected.from != expected.to && !(expected.time_constant.value() > 0.0))
        return refuse(refusal::bad_argument);
    if (record.size() < 64) return refuse(refusal::too_short);
    if (!all_finite(record)) return refuse(refusal::not_finite);
    const seconds length{static_cast<double>(record.size()) / rate.value()};
    const hertz lowest = std::min(expected.at(seconds{0.0}), expected.at(length));
    if (!(rate.value() > 8.0 * lowest.value())) return refuse(refusal::bad_argument);
    const double power = power_of(record);
    if (!(power > 0.0)) return refuse(refusal::silent);
    const auto window = short_window(lowest, rate);
    const hertz highest = std::max(expected.at(seconds{0.0}), expected.at(length));
    const auto turned = demodulate(record, rate, expected);
    const auto found =
        follow_phase(turned.values, turned.cycles, window, hop_of(window, highest, rate));
    if (found.phase.size() < 4) return refuse(refusal::too_short);
    const auto line = line_through(found);
    constexpr double cents_in_neper = 1200.0 / std::numbers::ln2;
    const double ratio = std::max(1.0 + line.slope, 1e-3);
    return short_note_reading{cents{1200.0 * std::log2(ratio)},
                              cents{cents_in_neper * line.u_slope / ratio}, line.rms,
                              found.power / power};
}

outcome<std::vector<double>> bright_part(std::span<const double> record, sample_rate rate) {
    constexpr double centre_hz = 3000.0;
    constexpr double quality = 1.0;
    if (!(rate.value() > 8000.0)) return refuse(refusal::bad_argument);
    if (!all_finite(record)) return refuse(refusal::not_finite);
    const double w = two_pi * centre_hz / rate.value();
    const double alpha = std::sin(w) / (2.0 * quality);
    const double b0 = alpha / (1.0 + alpha);
    const double a1 = -2.0 * std::cos(w) / (1.0 + alpha);
    const double a2 = (1.0 - alpha) / (1.0 + alpha);
    std::vector<double> out;
    out.reserve(record.size());
    double x1 = 0, x2 = 0, y1 = 0, y2 = 0, z1 = 0, z2 = 0;
    for (const double x : record) {
        const double y = b0 * (x - x2) - a1 * y1 - a2 * y2;
        const double z = b0 * (y - y2) - a1 * z1 - a2 * z2;
        x2 = x1;
        x1 = x;
        y2 = y1;
        y1 = y;
        z2 = z1;
        z1 = z;
        out.push_back(z);
    }
    return out;
}

std::size_t moment_samples(hertz pitch, sample_rate rate) noexcept {
    return static_cast<std::size_t>(short_window_length(pitch, rate));
}

outcome<moment_reading> read_moment(std::span<const double> record, std::span<const double> bright,
                                    sample_rate rate, hertz pitch) {
    if (!(pitch.value() > 0.0) || !(rate.value() > 0.0) || record.size() != bright.size())
        return refuse(refusal::bad_argument);
    const auto window = short_window(pitch, rate);
    if (record.size() < window.size() || window.empty()) return refuse(refusal::too_short);
    double weight = 0.0, sum = 0.0, squares = 0.0, bright_squares = 0.0;
    for (std::size_t i = 0; i < window.size(); ++i) {
        weight += window[i];
        sum += window[i] * record[i];
        squares += window[i] * record[i] * record[i];
        bright_squares += window[i] * bright[i] * bright[i];
    }
    const double power = squares / weight - sum / weight * (sum / weight);
    if (!(power > 0.0) || !(bright_squares > 0.0)) return refuse(refusal::silent);
    return moment_reading{
        decibels{10.0 * std::log10(power)},
        decibels{10.0 * std::log10(bright_squares / weight / (power * pitch.value()))}};
}

}  // namespace cvrig::analysis
