#include "analysis/spectrum.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>

#include "analysis/fourier.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {

namespace {

constexpr std::size_t shortest_record = 16;

std::vector<double> line_amplitudes(std::span<const complex_volts> bins, double sum_of_weights,
                                    amplitude_scale scale) {
    const double both_sides = scale == amplitude_scale::peak ? 2.0 : std::numbers::sqrt2;
    std::vector<double> volts(bins.size());
    for (std::size_t k = 0; k < bins.size(); ++k) {
        const bool at_an_end = k == 0 || k + 1 == bins.size();
        volts[k] = (at_an_end ? 1.0 : both_sides) * std::abs(bins[k]) / sum_of_weights;
    }
    return volts;
}

}  // namespace

outcome<amplitude_spectrum_reading> amplitude_spectrum(std::span<const double> samples_volts,
                                                       sample_rate rate, window_kind window,
                                                       amplitude_scale scale) {
    if (!(rate.value() > 0) || !std::isfinite(rate.value())) return refuse(refusal::bad_argument);
    if (samples_volts.size() < shortest_record) return refuse(refusal::too_short);
    const auto used = samples_volts.first(fast_length_at_most(samples_volts.size()));
    if (!all_finite(used)) return refuse(refusal::not_finite);

    const auto n = static_cast<double>(used.size());
    const auto weights = make_window(window, used.size());
    std::vector<double> weighted(used.size());
    std::transform(used.begin(), used.end(), weights.begin(), weighted.begin(), std::multiplies{});

    amplitude_spectrum_reading reading;
    reading.volts =
        line_amplitudes(real_transform(weighted), coherent_gain(weights).value() * n, scale);
    reading.bin_width = hertz{rate.value() / n};
    reading.noise_bandwidth_bins = noise_bandwidth_bins(weights).value();
    reading.samples_used = used.size();
    return reading;
}

}  // namespace cvrig::analysis
