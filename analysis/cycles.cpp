#include "analysis/cycles.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <kissfft/kissfft.hh>
#include <numbers>

namespace cvrig::analysis {
namespace {

constexpr double pi = std::numbers::pi;

double sinc(double x) noexcept {
    return std::abs(x) < 1e-9 ? 1.0 : std::sin(pi * x) / (pi * x);
}

/// Running sum that starts a few samples early, so that interpolation needs no special case at the
/// ends.
class running_sum {
public:
    running_sum(std::span<const double> x, std::ptrdiff_t first, std::ptrdiff_t last)
        : first_{first}, sum_(static_cast<std::size_t>(last - first) + 1, 0.0) {
        const auto n = static_cast<std::ptrdiff_t>(x.size());
        for (std::ptrdiff_t i = first; i < last; ++i) {
            const double v = i >= 0 && i < n ? x[static_cast<std::size_t>(i)] : 0.0;
            const auto k = static_cast<std::size_t>(i - first);
            sum_[k + 1] = sum_[k] + v;
        }
    }

    /// Integral up to `t` (not before the first sample), sample i covering i-1/2 to i+1/2; Keys'
    /// cubic convolution, a = -1/2.
    [[nodiscard]] double up_to(double t_samples) const noexcept {
        const double place = t_samples + 0.5 - static_cast<double>(first_);
        const auto whole = static_cast<std::ptrdiff_t>(place);
        const double f = place - static_cast<double>(whole);
        const double* p = sum_.data() + whole;
        const double half_slope = 0.5 * (p[1] - p[-1]);
        const double a = 1.5 * (p[0] - p[1]) + 0.5 * (p[2] - p[-1]);
        const double b = p[-1] - 2.5 * p[0] + 2.0 * p[1] - 0.5 * p[2];
        return p[0] + f * (half_slope + f * (b + f * a));
    }

private:
    std::ptrdiff_t first_;
    std::vector<double> sum_;
};

struct cycle_points {
    std::vector<double> centre_s;
    std::vector<double> mean_v;
};

/// Walks along the record, one point per 1/M of a cycle.
cycle_points resample(std::span<const double> volts, sample_rate rate, const pitch_line& pitch,
                      std::size_t points, seconds from, seconds to) {
    const double fs = rate.value();
    const running_sum sum{volts, static_cast<std::ptrdiff_t>(std::floor(from.value() * fs)) - 4,
                          static_cast<std::ptrdiff_t>(std::ceil(to.value() * fs)) + 8};
    const double per_cycle = static_cast<double>(points);
    cycle_points out;
    const auto expected = static_cast<std::size_t>((to - from).value() * per_cycle *
                                                   pitch_at(pitch, to).value() * 1.1) +
                          16;
    out.centre_s.reserve(expected);
    out.mean_v.reserve(expected);
    const bool steady = pitch.pitch_hz.size() == 1;
    double width = 1.0 / (per_cycle * pitch_at(pitch, from).value());
    double t = from.value();
    double before = sum.up_to(t * fs);
    while (t + width < to.value()) {
        if (!steady) width = 1.0 / (per_cycle * pitch_at(pitch, seconds{t + width / 2}).value());
        const double after = sum.up_to((t + width) * fs);
        out.centre_s.push_back(t + width / 2);
        out.mean_v.push_back((after - before) / (width * fs));
        before = after;
        t += width;
    }
    return out;
}

std::vector<double> hann(std::size_t length) {
    std::vector<double> w(length);
    for (std::size_t i = 0; i < length; ++i) {
        w[i] = 0.5 - 0.5 * std::cos(2 * pi * static_cast<double>(i) / static_cast<double>(length));
    }
    return w;
}

/// Windowed cycles added up point by point: keeping every n-th line of the long transform is the
/// same as transforming this one cycle.
void fold(std::span<const double> x, std::size_t first, std::span<const double> window,
          std::span<double> cycle) {
    std::ranges::fill(cycle, 0.0);
    const std::size_t mask = cycle.size() - 1;
    for (std::size_t j = 0; j < window.size();) {
        // Up to the end of the cycle without a jump, so that the sums vectorise.
        const std::size_t phase = (first + j) & mask;
        const std::size_t run = std::min(cycle.size() - phase, window.size() - j);
        for (std::size_t i = 0; i < run; ++i) cycle[phase + i] += window[j + i] * x[first + j + i];
        j += run;
    }
}

/// Spectrum of Keys' kernel with a = -1/2 at `x` cycles per sample.
double keys_spectrum(double x) noexcept {
    if (std::abs(x) < 1e-3) return 1.0;
    const double scale = 1.0 / (pi * pi * x * x);
    const double s1 = sinc(x);
    const double s2 = sinc(2 * x);
    return scale * (3.0 * (s1 * s1 - s2) - (3.0 * s2 * s2 - 2.0 * s2 - sinc(4 * x)));
}

/// Weighted mean phase advance of the fundamental from frame to frame, as a frequency.
outcome<hertz> phase_drift(const harmonic_frames& frames, seconds hop) {
    std::complex<double> turn{0.0, 0.0};
    double power = 0.0;
    for (std::size_t i = 1; i < frames.size(); ++i) {
        turn += frames.frame(i)[0] * std::conj(frames.frame(i - 1)[0]);
        power += std::norm(frames.frame(i)[0]);
    }
    if (power <= 0.0) return refuse(refusal::silent);
    if (std::abs(turn) < 0.5 * power) return refuse(refusal::no_pitch);
    return hertz{std::arg(turn) / (2 * pi * hop.value())};
}

}  // namespace

pitch_line constant_pitch(hertz pitch) {
    return {seconds{0.0}, seconds{1.0}, {pitch.value()}};
}

hertz pitch_at(const pitch_line& line, seconds at) noexcept {
    const double place = (at - line.start) / line.spacing;
    const double last = static_cast<double>(line.pitch_hz.size() - 1);
    if (place <= 0.0 || last <= 0.0) return hertz{line.pitch_hz.front()};
    if (place >= last) return hertz{line.pitch_hz.back()};
    const auto i = static_cast<std::size_t>(place);
    const double f = place - static_cast<double>(i);
    return hertz{(1 - f) * line.pitch_hz[i] + f * line.pitch_hz[i + 1]};
}

cycle_plan plan_cycles(const cycle_request& request, sample_rate rate) noexcept {
    const double most = request.density * rate.value() / request.highest.value();
    const auto points = std::bit_floor(static_cast<std::size_t>(std::clamp(most, 16.0, 512.0)));
    const double top = std::min(request.top.value(), 0.45 * rate.value()) / request.highest.value();
    const double kept = std::clamp(std::floor(top), 1.0, 0.45 * static_cast<double>(points));
    const double cycles =
        std::max(2.0, std::round(request.window.value() * request.lowest.value()));
    return {static_cast<std::size_t>(cycles), points, static_cast<std::size_t>(kept)};
}

seconds half_window(const cycle_plan& plan, hertz pitch) noexcept {
    return seconds{static_cast<double>(plan.cycles) / (2.0 * pitch.value())};
}

harmonic_frames harmonics_at(std::span<const double> volts, sample_rate rate,
                             const pitch_line& pitch, const cycle_plan& plan,
                             std::span<const double> at_s) {
    harmonic_frames out{plan.harmonics, {}};
    if (at_s.empty()) return out;
    const double lowest = std::ranges::min(pitch.pitch_hz);
    const seconds reach = half_window(plan, hertz{lowest}) + seconds{2.0 / lowest};
    const cycle_points points =
        resample(volts, rate, pitch, plan.points, seconds{at_s.front()} - reach,
                 seconds{at_s.back()} + reach);
    const std::vector<double> window = hann(plan.cycles * plan.points);
    const kissfft<double> transform{plan.points / 2, false};
    std::vector<double> cycle(plan.points);
    std::vector<std::complex<double>> lines(plan.points / 2 + 1);
    const double scale = 4.0 / static_cast<double>(window.size());
    out.lines_v.reserve(at_s.size() * plan.harmonics);
    for (const double at : at_s) {
        const auto centre = static_cast<std::size_t>(std::ranges::lower_bound(points.centre_s, at) -
                                                     points.centre_s.begin());
        const std::size_t first = std::min(centre - std::min(centre, window.size() / 2),
                                           points.mean_v.size() - window.size());
        fold(points.mean_v, first, window, cycle);
        transform.transform_real(cycle.data(), lines.data());
        for (std::size_t k = 1; k <= plan.harmonics; ++k) out.lines_v.push_back(scale * lines[k]);
    }
    return out;
}

std::vector<double> line_response(const cycle_plan& plan, hertz pitch, sample_rate rate) {
    std::vector<double> out(plan.harmonics);
    for (std::size_t k = 1; k <= plan.harmonics; ++k) {
        const double order = static_cast<double>(k);
        const double x = order * pitch.value() / rate.value();
        out[k - 1] = sinc(order / static_cast<double>(plan.points)) * keys_spectrum(x) / sinc(x);
    }
    return out;
}

double line_noise(const cycle_plan& plan, hertz pitch, sample_rate rate) noexcept {
    const double samples = static_cast<double>(plan.cycles) * rate.value() / pitch.value();
    return std::sqrt(6.0 / samples);
}

outcome<hertz> held_pitch(std::span<const double> volts, sample_rate rate, hertz nominal,
                          seconds from, seconds to) {
    constexpr seconds hop{0.002};
    const auto plan = plan_cycles({nominal, nominal, seconds{0.012}, 0.01, nominal}, rate);
    const seconds half = half_window(plan, nominal);
    std::vector<double> at_s;
    for (double t = (from + half).value(); t <= (to - half).value(); t += hop.value())
        at_s.push_back(t);
    if (at_s.size() < 4) return refuse(refusal::too_short);
    hertz pitch = nominal;
    for (int round = 0; round < 3; ++round) {
        const auto drift =
            phase_drift(harmonics_at(volts, rate, constant_pitch(pitch), plan, at_s), hop);
        if (!drift) return refuse(drift.error());
        pitch += *drift;
        if (std::abs(pitch / nominal - 1.0) > 0.03) return refuse(refusal::no_pitch);
    }
    return pitch;
}

}  // namespace cvrig::analysis
