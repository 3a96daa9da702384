#include "analysis/transients_scale.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::analysis {
namespace {

constexpr double reach_widths = 6.0;
// The energies of the third and fourth derivative of a Gaussian, which a step gives, are as 15 / 8
// to 105 / 16; the fourth has its peak, 3, in the middle, where the third is 0.
const double odd_share = std::sqrt((15.0 / 8.0) / (105.0 / 16.0));
const double step_peak = 3.0 * odd_share;

double fourth(double u) {
    return ((u * u - 6.0) * u * u + 3.0) * std::exp(-0.5 * u * u);
}

double fifth(double u) {
    return ((u * u - 10.0) * u * u + 15.0) * u * std::exp(-0.5 * u * u);
}

// A filter without memory of a constant: sampling must not leave it one.
void without_mean(std::vector<double>& taps) {
    double sum = 0.0;
    for (const double v : taps) sum += v;
    for (double& v : taps) v -= sum / static_cast<double>(taps.size());
}

void convolve(std::span<const double> x, std::span<const double> taps, std::size_t reach,
              std::vector<double>& out) {
    const auto n = x.size();
    out.assign(n, 0.0);
    if (n <= 2 * reach) return;
    // Tap by tap over a stretch that stays in the cache, so that the sums vectorise.
    constexpr std::size_t stretch = 2048;
    for (std::size_t first = reach; first < n - reach; first += stretch) {
        const std::size_t count = std::min(stretch, n - reach - first);
        double* to = out.data() + first;
        for (std::size_t k = 0; k < taps.size(); ++k) {
            const double tap = taps[k];
            const double* from = x.data() + first + k - reach;
            for (std::size_t i = 0; i < count; ++i) to[i] += tap * from[i];
        }
    }
}

}  // namespace

abruptness_filter::abruptness_filter(seconds width, sample_rate rate)
    : reach_{static_cast<std::size_t>(std::ceil(reach_widths * width.value() * rate.value()))} {
    const double samples = width.value() * rate.value();
    for (std::size_t i = 0; i < 2 * reach_ + 1; ++i) {
        const double u = (static_cast<double>(i) - static_cast<double>(reach_)) / samples;
        // The response to a step is the integral of the taps.
        even_.push_back(fourth(u) / samples / step_peak);
        odd_.push_back(odd_share * fifth(u) / samples / step_peak);
    }
    without_mean(even_);
    scale_to_step();
    double even = 0.0;
    double odd = 0.0;
    for (const double v : even_) even += v * v;
    for (const double v : odd_) odd += v * v;
    noise_gain_ = std::sqrt(0.5 * (even + odd));
}

// Sampling raises the peak of a step by some per cent, more at low rates: a step between two
// samples, read like any peak, is what has to read its height.
void abruptness_filter::scale_to_step() {
    std::vector<double> step(4 * reach_ + 2, 0.0);
    std::fill(step.begin() + static_cast<std::ptrdiff_t>(2 * reach_ + 1), step.end(), 1.0);
    // The two samples beside the step read alike, so the parabola has its top between them.
    const double beside = std::sqrt(at(step, 2 * reach_).square());
    const double next = std::sqrt(at(step, 2 * reach_ - 1).square());
    const double peak = beside + 0.125 * (beside - next);
    for (double& v : even_) v /= peak;
    for (double& v : odd_) v /= peak;
}

abruptness_filter::response abruptness_filter::at(std::span<const double> volts,
                                                  std::size_t sample) const {
    response out{0.0, 0.0};
    const auto last = static_cast<std::ptrdiff_t>(volts.size()) - 1;
    for (std::size_t k = 0; k < even_.size(); ++k) {
        const auto i =
            static_cast<std::ptrdiff_t>(sample + k) - static_cast<std::ptrdiff_t>(reach_);
        const double v = volts[static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(i, 0, last))];
        out.even_v += even_[k] * v;
        out.odd_v += odd_[k] * v;
    }
    return out;
}

void abruptness_filter::all(std::span<const double> volts, std::vector<double>& even_v,
                            std::vector<double>& odd_v) const {
    convolve(volts, even_, reach_, even_v);
    convolve(volts, odd_, reach_, odd_v);
}

}  // namespace cvrig::analysis
