#include "analysis/held_wave.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "analysis/harmonics.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

using complex = std::complex<double>;
constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double fewest_periods = 8.0;
constexpr double most_harmonics = 96.0;

/// The fundamental of a stretch, seen through a Hann window, at the window's middle.
complex fundamental(std::span<const double> x, double cycles_per_sample) {
    const auto n = static_cast<double>(x.size());
    const complex step = std::polar(1.0, -two_pi * cycles_per_sample);
    complex turn = std::polar(1.0, two_pi * cycles_per_sample * 0.5 * n);
    const complex window_step = std::polar(1.0, two_pi / n);
    complex window = std::polar(1.0, std::numbers::pi / n);
    complex sum{0.0};
    for (const double v : x) {
        sum += v * (1.0 - window.real()) * turn;
        turn *= step;
        window *= window_step;
    }
    return 2.0 * sum / n;
}

/// Pitch (cycles a sample) and decay (nepers a sample) of a stretch.
struct course {
    double cycles_per_sample;
    double decay_per_sample;
};

outcome<course> follow(std::span<const double> x, double nominal) {
    const std::size_t half = x.size() / 2;
    double f = nominal;
    double decay = 0.0;
    // The first turn leaves what the window's skirts let through at a pitch that is a little off.
    for (int turn = 0; turn < 2; ++turn) {
        const complex a = fundamental(x.first(half), f);
        const complex b = fundamental(x.last(half), f);
        if (!(std::abs(a) > 0.0) || !(std::abs(b) > 0.0)) return refuse(refusal::silent);
        const auto apart = static_cast<double>(x.size() - half);
        const double advance = std::arg(b / a * std::polar(1.0, -two_pi * f * apart));
        f += advance / (two_pi * apart);
        decay = std::log(std::abs(a) / std::abs(b)) / apart;
    }
    if (!(std::abs(f / nominal - 1.0) < 0.02)) return refuse(refusal::no_pitch);
    return course{f, decay};
}

}  // namespace

double held_wave::shrunk(double at_sample) const noexcept {
    return std::exp(-decay_per_sample_ * (at_sample - static_cast<double>(from_)));
}

std::vector<double> held_wave::continued(std::size_t first, std::size_t end) const {
    std::vector<double> out;
    out.reserve(end - first);
    for (std::size_t i = first; i < end; ++i) {
        const double away = static_cast<double>(i) - static_cast<double>(from_);
        const complex z = std::polar(1.0, two_pi * std::remainder(cycles_per_sample_ * away, 1.0));
        complex sum{0.0};
        for (auto line = lines_v_.rbegin(); line != lines_v_.rend(); ++line)
            sum = (sum + *line) * z;
        out.push_back(sum.real() * shrunk(static_cast<double>(i)));
    }
    return out;
}

std::vector<double> held_wave::cycle(double at_sample, std::size_t points) const {
    const double away = at_sample - static_cast<double>(from_);
    std::vector<double> out;
    out.reserve(points);
    for (std::size_t i = 0; i < points; ++i) {
        const double phase =
            cycles_per_sample_ * away + static_cast<double>(i) / static_cast<double>(points);
        const complex z = std::polar(1.0, two_pi * std::remainder(phase, 1.0));
        complex sum{0.0};
        for (auto line = lines_v_.rbegin(); line != lines_v_.rend(); ++line)
            sum = (sum + *line) * z;
        out.push_back(sum.real() * shrunk(at_sample));
    }
    return out;
}

outcome<held_wave> read_held_wave(std::span<const double> volts, double offset_volts,
                                  sample_rate rate, hertz pitch, seconds from, seconds to) {
    const double fs = rate.value();
    const bool sane = pitch.value() > 0.0 && pitch.value() < 0.1 * fs && from.value() >= 0.0 &&
                      to > from && std::isfinite(to.value());
    if (!sane) return refuse(refusal::bad_argument);
    const auto first = static_cast<std::size_t>(std::lround(from.value() * fs));
    const auto end = std::min(volts.size(), static_cast<std::size_t>(std::lround(to.value() * fs)));
    if (end <= first || static_cast<double>(end - first) * pitch.value() < fewest_periods * fs)
        return refuse(refusal::too_short);
    const auto stretch = volts.subspan(first, end - first);
    if (!all_finite(stretch)) return refuse(refusal::not_finite);
    std::vector<double> x(stretch.begin(), stretch.end());
    for (double& v : x) v -= offset_volts;
    const auto found = follow(x, pitch.value() / fs);
    if (!found) return refuse(found.error());
    double growth = 1.0;
    for (double& v : x) {
        v *= growth;
        growth *= std::exp(found->decay_per_sample);
    }
    const hertz exact{found->cycles_per_sample * fs};
    const auto count = static_cast<std::size_t>(
        std::clamp(std::floor(0.42 * fs / exact.value()), 1.0, most_harmonics));
    const auto set = harmonic_levels(x, rate, exact, count);
    if (!set) return refuse(set.error());
    held_wave out;
    out.pitch_ = exact;
    out.from_ = first;
    out.to_ = end;
    out.cycles_per_sample_ = found->cycles_per_sample;
    out.decay_per_sample_ = found->decay_per_sample;
    double power = 0.0;
    for (const auto& h : set->harmonics) {
        out.lines_v_.push_back(std::polar(h.peak.value(), h.phase_radians));
        power += 0.5 * h.peak.value() * h.peak.value();
    }
    out.rms_ = cvrig::volts{std::sqrt(power)} * out.shrunk(0.5 * static_cast<double>(first + end));
    out.residual_ = set->residual_rms;
    // Another pitch may turn by whole cycles more or less and look right by its phase alone.
    if (set->residual_rms.value() > 0.5 * std::sqrt(power)) return refuse(refusal::no_pitch);
    return out;
}

}  // namespace cvrig::analysis
