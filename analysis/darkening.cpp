#include "analysis/darkening.hpp"

#include <cmath>
#include <numeric>

#include "analysis/hann.hpp"

namespace cvrig::analysis {

namespace {

std::vector<double> weights_of(std::size_t length) {
    std::vector<double> out(length);
    for (std::size_t i = 0; i < length; ++i)
        out[i] = hann_weight((static_cast<double>(i) + 0.5) / static_cast<double>(length));
    const double sum = std::accumulate(out.begin(), out.end(), 0.0);
    for (double& w : out) w /= sum;
    return out;
}

}  // namespace

std::vector<double> darkened(std::span<const double> samples_volts, sample_rate rate,
                             hertz highest) {
    const auto length =
        static_cast<std::size_t>(std::max(1.0, std::round(2.0 * rate.value() / highest.value())));
    if (samples_volts.size() < length) return {};
    const auto weights = weights_of(length);
    std::vector<double> out(samples_volts.size() - length + 1);
    for (std::size_t i = 0; i < out.size(); ++i)
        out[i] = std::inner_product(weights.begin(), weights.end(),
                                    samples_volts.begin() + static_cast<std::ptrdiff_t>(i), 0.0);
    return out;
}

}  // namespace cvrig::analysis
