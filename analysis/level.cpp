#include "analysis/level.hpp"

#include "analysis/hann.hpp"
#include "analysis/interpolation.hpp"

#include <algorithm>
#include <array>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <numeric>

#include "analysis/samples.hpp"

namespace cvrig::analysis {

namespace {

constexpr std::size_t shortest_record = 16;
constexpr volts nothing{1e-9};
constexpr std::size_t parts = 8;

double mean_square(std::span<const double> x) {
    return dot(x, x) / static_cast<double>(x.size());
}

double mean_square_about(std::span<const double> x, double centre) {
    double sum = 0;
    for (const double v : x) sum += (v - centre) * (v - centre);
    return sum / static_cast<double>(x.size());
}

std::size_t samples_in_runs(std::span<const double> x, double value, std::size_t shortest) {
    std::size_t total = 0;
    for (std::size_t i = 0; i < x.size();) {
        std::size_t end = i;
        while (end < x.size() && x[end] == value) ++end;
        if (end - i >= shortest) total += end - i;
        i = std::max(end, i + 1);
    }
    return total;
}

std::size_t clipped(std::span<const double> x, double low, double high, std::size_t shortest) {
    if (low == high) return 0;  // a constant has no crest to cut off
    return samples_in_runs(x, low, shortest) + samples_in_runs(x, high, shortest);
}

double faded_mean_square(std::span<const double> x) {
    double weights = 0.0, sum = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double weight =
            hann_weight((static_cast<double>(i) + 0.5) / static_cast<double>(x.size()));
        weights += weight;
        sum += weight * x[i] * x[i];
    }
    return sum / weights;
}

/// Variance of the mean square by what changes from one part to the next. The parts are faded in and out,
/// so that unfinished periods do not count; noise in one so scatters by 1.5 times as much variance.
double variance_of_parts(std::span<const double> x) {
    constexpr double of_fading = 1.5;
    const std::size_t length = x.size() / parts;
    std::array<double, parts> each{};
    for (std::size_t i = 0; i < parts; ++i)
        each[i] = faded_mean_square(x.subspan(i * length, length));
    double sum = 0.0;
    for (std::size_t i = 1; i < parts; ++i)
        sum += (each[i] - each[i - 1]) * (each[i] - each[i - 1]);
    return sum / (2.0 * (parts - 1)) / parts / of_fading;
}

/// Variance of the sum of squares by where in its period the record ends: of the sum's course near there
/// about a straight line.
double variance_of_end(std::span<const double> x) {
    double count = 0.0, sum = 0.0, at = 0.0, at_at = 0.0, sums = 0.0, sums_at = 0.0, squares = 0.0;
    for (const double v : x) {
        sum += v * v;
        at += count;
        at_at += count * count;
        sums += sum;
        sums_at += sum * count;
        squares += sum * sum;
        count += 1.0;
    }
    const double spread = at_at - at * at / count;
    const double together = sums_at - sums * at / count;
    return std::max(0.0, squares - sums * sums / count - together * together / spread) / count;
}

/// Standard uncertainty of the mean square. A record of fixed length has both ends at phases that belong
/// together, so that their deviations add at worst.
double u_mean_square(std::span<const double> x) {
    const std::size_t length = x.size() / parts;
    const double ends =
        std::sqrt(variance_of_end(x.first(length))) + std::sqrt(variance_of_end(x.last(length)));
    return std::hypot(std::sqrt(variance_of_parts(x)), ends / static_cast<double>(x.size()));
}

constexpr std::size_t parts_of_a_sample = 8;
using kernel = std::array<double, 2 * static_cast<std::size_t>(kernel_reach)>;

// Weights of the samples from kernel_reach before a sample on, for each place before that sample.
std::array<kernel, parts_of_a_sample - 1> kernels_between_samples() {
    std::array<kernel, parts_of_a_sample - 1> all{};
    for (std::size_t part = 1; part < parts_of_a_sample; ++part) {
        const double before = static_cast<double>(part) / parts_of_a_sample;
        for (std::size_t k = 0; k < all[part - 1].size(); ++k) {
            const double from_sample = static_cast<double>(k) - static_cast<double>(kernel_reach);
            all[part - 1][k] = interpolation_kernel(from_sample + before).value;
        }
    }
    return all;
}

}  // namespace

double level_reading::crest_factor() const noexcept {
    return std::max(std::abs(peak.value()), std::abs(trough.value())) / rms.value();
}

volts true_peak(std::span<const double> samples_volts) {
    double most = 0.0;
    for (const double v : samples_volts) most = std::max(most, std::abs(v));
    const double worth_a_look = 0.5 * most;
    const auto kernels = kernels_between_samples();
    const auto reach = static_cast<std::size_t>(kernel_reach);
    const auto tops = [&](std::size_t i) {
        const double here = std::abs(samples_volts[i]);
        return here >= worth_a_look && here >= std::abs(samples_volts[i - 1]) &&
               here >= std::abs(samples_volts[i + 1]);
    };
    for (std::size_t i = reach; i + reach < samples_volts.size(); ++i) {
        if (!tops(i) && !tops(i - 1)) continue;
        const auto around = samples_volts.subspan(i - reach, 2 * reach);
        for (const auto& kernel : kernels)
            most = std::max(most, std::abs(std::inner_product(kernel.begin(), kernel.end(),
                                                              around.begin(), 0.0)));
    }
    return volts{most};
}

peak_excess noise_in_peak(std::span<const double> samples_volts, volts peak, volts noise_rms) {
    const double sigma = noise_rms.value();
    // The count depends on the peak, and the peak on the count; a few rounds settle it. They begin
    // with more than any noise adds: begun with nothing, they would end at once where one sample
    // stands out, as that which the noise has lifted most does.
    constexpr double most_deviations = 4.0;
    double excess = most_deviations * sigma, count = 1.0;
    for (int round = 0; round < 10 && sigma > 0.0; ++round) {
        const double near = peak.value() - excess - sigma;
        count = std::max(1.0, static_cast<double>(std::ranges::count_if(
                                  samples_volts, [&](double v) { return std::abs(v) >= near; })));
        const double share = (count - 0.375) / (count + 0.25);
        excess = sigma * boost::math::quantile(boost::math::normal{}, share);
        excess = std::max(excess, 0.0);
    }
    return {volts{excess}, volts{sigma / std::sqrt(1.0 + 0.88 * std::log(count))}};
}

outcome<level_reading> measure_level(std::span<const double> samples_volts,
                                     const level_options& options) {
    if (samples_volts.size() < shortest_record) return refuse(refusal::too_short);
    if (!all_finite(samples_volts)) return refuse(refusal::not_finite);
    const auto [low, high] = std::minmax_element(samples_volts.begin(), samples_volts.end());

    level_reading reading;
    reading.trough = volts{*low};
    reading.peak = volts{*high};
    reading.rms = volts{std::sqrt(mean_square(samples_volts))};
    if (reading.rms < nothing) return refuse(refusal::silent);
    reading.dc = volts{mean(samples_volts)};
    reading.ac_rms = volts{std::sqrt(mean_square_about(samples_volts, reading.dc.value()))};
    reading.u_rms = volts{u_mean_square(samples_volts) / (2 * reading.rms.value())};
    const auto shortest = std::max<std::size_t>(options.shortest_clipped_run, 2);
    reading.clipped_samples = clipped(samples_volts, *low, *high, shortest);
    return reading;
}

}  // namespace cvrig::analysis
