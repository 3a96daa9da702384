#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "analysis/dropouts.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr double pi = std::numbers::pi;
constexpr double chance = 1e-4;
constexpr double normal_consistency = 1.4826;
constexpr seconds floor_of_a_slip{60e-6};
constexpr std::size_t frames_per_period = 2;
constexpr std::size_t left_out = 2;     // frames on either side that may hear the place itself
constexpr std::size_t side_frames = 6;  // three periods
constexpr double least_periods = 12.0;

double median(std::vector<double> x) {
    const auto middle = x.begin() + static_cast<std::ptrdiff_t>(x.size() / 2);
    std::ranges::nth_element(x, middle);
    return *middle;
}

// Phase of the fundamental less that of a steady tone, unwrapped, one value each half period.
std::vector<double> phases(std::span<const double> x, double period) {
    const auto window = static_cast<std::size_t>(std::lround(2.0 * period));
    std::vector<std::complex<double>> taps(window);
    for (std::size_t i = 0; i < window; ++i) {
        const double share = (static_cast<double>(i) + 0.5) / static_cast<double>(window);
        taps[i] = std::polar(1.0 - std::cos(2.0 * pi * share),
                             -2.0 * pi * static_cast<double>(i) / period);
    }
    std::vector<double> out;
    const double hop = period / static_cast<double>(frames_per_period);
    for (std::size_t frame = 0;; ++frame) {
        const auto first = static_cast<std::size_t>(std::lround(static_cast<double>(frame) * hop));
        if (first + window > x.size()) break;
        std::complex<double> sum{0.0, 0.0};
        for (std::size_t i = 0; i < window; ++i) sum += taps[i] * x[first + i];
        const double steady = 2.0 * pi * static_cast<double>(first) / period;
        const double phase = std::arg(sum * std::polar(1.0, -steady));
        out.push_back(out.empty() ? phase
                                  : out.back() + std::remainder(phase - out.back(), 2.0 * pi));
    }
    return out;
}

double median_of(const std::vector<double>& x, std::size_t first, std::size_t count) {
    const auto begin = x.begin() + static_cast<std::ptrdiff_t>(first);
    return median({begin, begin + static_cast<std::ptrdiff_t>(count)});
}

// Element i: how far the phase goes on ahead behind frame i + left_out + side_frames.
std::vector<double> advances(const std::vector<double>& phase) {
    std::vector<double> out;
    const std::size_t span = 2 * (side_frames + left_out) + 1;
    for (std::size_t i = 0; i + span <= phase.size(); ++i) {
        const double before = median_of(phase, i, side_frames);
        const double behind = median_of(phase, i + side_frames + 2 * left_out + 1, side_frames);
        out.push_back(behind - before);
    }
    return out;
}

// The phase's usual step from frame to frame, which slips do not move, is what the pitch is off by.
double mended(double period, const std::vector<double>& phase) {
    if (phase.size() < 2) return period;
    std::vector<double> steps;
    for (std::size_t i = 1; i < phase.size(); ++i) steps.push_back(phase[i] - phase[i - 1]);
    const double cycles = median(std::move(steps)) / (2.0 * pi);
    return period / (1.0 + cycles * static_cast<double>(frames_per_period));
}

double robust_deviation(const std::vector<double>& x, double centre) {
    std::vector<double> away;
    for (const double v : x) away.push_back(std::abs(v - centre));
    return normal_consistency * median(away);
}

}  // namespace

outcome<slip_reading> find_slips(std::span<const double> volts, sample_rate rate, hertz pitch) {
    if (!(rate.value() > 0.0) || !(pitch.value() > 0.0) || pitch.value() > 0.2 * rate.value())
        return refuse(refusal::bad_argument);
    double period = rate.value() / pitch.value();
    if (static_cast<double>(volts.size()) < least_periods * period)
        return refuse(refusal::too_short);
    if (!all_finite(volts)) return refuse(refusal::not_finite);
    if (!(deviation(volts) > 1e-9)) return refuse(refusal::silent);

    // A window that does not hold whole periods bends the phase a little: twice is enough.
    for (int i = 0; i < 2; ++i) period = mended(period, phases(volts, period));
    if (static_cast<double>(volts.size()) < least_periods * period)
        return refuse(refusal::too_short);
    const auto change = advances(phases(volts, period));
    if (change.size() < 3) return refuse(refusal::too_short);
    const double usual = median(change);
    const double scatter = robust_deviation(change, usual);
    const double to_seconds = period / rate.value() / (2.0 * pi);
    const double factor = std::sqrt(2.0 * std::log(static_cast<double>(change.size()) / chance));
    const double least = std::max(floor_of_a_slip.value(), factor * scatter * to_seconds);

    slip_reading out;
    out.smallest = seconds{least};
    const double hop = period / static_cast<double>(frames_per_period);
    for (std::size_t i = 0; i < change.size();) {
        if (std::abs(change[i] - usual) * to_seconds < least) {
            ++i;
            continue;
        }
        std::size_t end = i;
        while (end < change.size() && std::abs(change[end] - usual) * to_seconds >= least) ++end;
        // In the middle no window hears the place itself.
        const std::size_t left = (i + end - 1) / 2, right = (i + end) / 2;
        const double jump = 0.5 * (change[left] + change[right]) - usual;
        const double middle =
            0.5 * static_cast<double>(i + end - 1) + static_cast<double>(side_frames + left_out);
        out.slips.push_back(
            {middle * hop + period, seconds{jump * to_seconds}, seconds{scatter * to_seconds}});
        i = end;
    }
    return out;
}

}  // namespace cvrig::analysis
