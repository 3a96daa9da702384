#include "tests/support/signal_path.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

namespace cvrig::testing {

namespace {

constexpr std::ptrdiff_t half_taps = 48;

// Ideal low-pass beneath a Blackman window, at a distance in samples from its middle.
double kernel(double distance, double cutoff) {
    const double w = distance / static_cast<double>(half_taps);
    if (std::abs(w) >= 1.0) return 0.0;
    const double pi = std::numbers::pi;
    const double window = 0.42 + 0.5 * std::cos(pi * w) + 0.08 * std::cos(2 * pi * w);
    const double a = 2 * pi * cutoff * distance;
    const double sinc = std::abs(a) < 1e-9 ? 1.0 : std::sin(a) / a;
    return 2 * cutoff * sinc * window;
}

std::vector<double> kernel_at(double fraction, double cutoff) {
    std::vector<double> out;
    for (std::ptrdiff_t k = -half_taps + 1; k <= half_taps; ++k)
        out.push_back(kernel(static_cast<double>(k) - fraction, cutoff));
    return out;
}

double filtered(std::span<const float> x, std::ptrdiff_t middle, std::span<const double> taps) {
    double sum = 0.0;
    auto i = middle - half_taps + 1;
    const auto count = static_cast<std::ptrdiff_t>(taps.size());
    if (i >= 0 && i + count <= static_cast<std::ptrdiff_t>(x.size())) {
        const float* from = x.data() + i;
        double sums[4] = {};  // so that the compiler need not keep one order of additions
        for (std::size_t k = 0; k < taps.size(); k += 4)
            for (std::size_t l = 0; l < 4; ++l)
                sums[l] += taps[k + l] * static_cast<double>(from[k + l]);
        return sums[0] + sums[1] + sums[2] + sums[3];
    }
    for (const double tap : taps) {
        if (i >= 0 && i < static_cast<std::ptrdiff_t>(x.size()))
            sum += tap * static_cast<double>(x[static_cast<std::size_t>(i)]);
        ++i;
    }
    return sum;
}

}  // namespace

std::vector<float> band_limited(std::span<const float> x, std::size_t count, double delay_samples,
                                double step, double cutoff) {
    std::vector<float> out(count);
    std::vector<double> taps;
    double fraction_of_taps = -1.0;
    for (std::size_t n = 0; n < count; ++n) {
        const double place = (static_cast<double>(n) - delay_samples) * step;
        const double whole = std::floor(place);
        if (place - whole != fraction_of_taps) {
            fraction_of_taps = place - whole;
            taps = kernel_at(fraction_of_taps, cutoff);
        }
        out[n] = static_cast<float>(filtered(x, static_cast<std::ptrdiff_t>(whole), taps));
    }
    return out;
}

void couple_by_capacitor(std::span<float> x, hertz corner, sample_rate rate) {
    const double keep = std::exp(-2 * std::numbers::pi * corner.value() / rate.value());
    double held = 0.0;
    for (float& v : x) {
        const double passed = static_cast<double>(v) - held;
        held += (1.0 - keep) * passed;
        v = static_cast<float>(passed);
    }
}

void add_noise(std::span<float> x, double rms, std::uint64_t seed) {
    std::mt19937_64 generator{seed};
    std::normal_distribution<double> normal{0.0, 1.0};
    for (float& v : x) v = static_cast<float>(static_cast<double>(v) + rms * normal(generator));
}

void add_sine(std::span<float> x, double amplitude, hertz frequency, sample_rate rate,
              double phase) {
    const double step = 2 * std::numbers::pi * frequency.value() / rate.value();
    for (std::size_t n = 0; n < x.size(); ++n)
        x[n] = static_cast<float>(static_cast<double>(x[n]) +
                                  amplitude * std::sin(step * static_cast<double>(n) + phase));
}

std::vector<float> with_slips(std::span<const float> x, std::span<const slip> slips) {
    std::vector<float> out;
    out.reserve(x.size());
    std::ptrdiff_t source = 0;
    auto next = slips.begin();
    while (out.size() < x.size()) {
        while (next != slips.end() && out.size() >= next->at) source += (next++)->lost;
        const bool there = source >= 0 && source < static_cast<std::ptrdiff_t>(x.size());
        out.push_back(there ? x[static_cast<std::size_t>(source)] : 0.0F);
        ++source;
    }
    return out;
}

void clip(std::span<float> x, double limit) {
    for (float& v : x) v = static_cast<float>(std::clamp(static_cast<double>(v), -limit, limit));
}

}  // namespace cvrig::testing
