#include "analysis/zipper_lines.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "analysis/hann.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr double pi = std::numbers::pi;
constexpr double steps_per_bin = 4.0;
constexpr double chance = 1e-4;
// Clear of a line's own main lobe and first sidelobes.
constexpr double near_bins = 4.0;

double weight_at(Eigen::Index i, Eigen::Index values) {
    return hann_weight((static_cast<double>(i) + 0.5) / static_cast<double>(values));
}

double power_at(const course_values& windowed, double turns_per_value) {
    const auto turn = std::polar(1.0, -2.0 * pi * turns_per_value);
    std::complex<double> sum{0.0, 0.0};
    // Horner's rule, from the end: one multiplication a value.
    for (Eigen::Index i = windowed.size(); i-- > 0;) sum = sum * turn + windowed[i];
    return std::norm(sum);
}

double median(std::vector<double> x) {
    const auto middle = x.begin() + static_cast<std::ptrdiff_t>(x.size() / 2);
    std::ranges::nth_element(x, middle);
    return *middle;
}

}  // namespace

line_search search_lines(const course_values& y, seconds spacing, const zipper_request& request) {
    const auto n = y.size();
    course_values windowed(n);
    double weight = 0.0;
    for (Eigen::Index i = 0; i < n; ++i) {
        windowed[i] = weight_at(i, n) * y[i];
        weight += weight_at(i, n);
    }
    const double bin_hz = 1.0 / (spacing.value() * static_cast<double>(n));
    line_search out{.lowest_hz = request.lowest.value(),
                    .grid_hz = bin_hz / steps_per_bin,
                    .bin_hz = bin_hz,
                    .power = {}};
    for (double place = 0.0; out.rate_hz(place) <= request.highest.value(); place += 1.0)
        out.power.push_back(power_at(windowed, out.rate_hz(place) * spacing.value()) * 4.0 /
                            (weight * weight));
    return out;
}

double top_rate_hz(const course_values& y, seconds spacing, double about_hz, double bin_hz) {
    // Each parabola is that much narrower than the last one.
    for (const double bins : {0.25, 0.05, 0.01}) {
        const double side_hz = bins * bin_hz;
        const auto log_power = [&](double rate_hz) {
            return std::log(std::max(std::norm(line_phasor(y, spacing, rate_hz)), 1e-300));
        };
        const double left = log_power(about_hz - side_hz);
        const double right = log_power(about_hz + side_hz);
        const double bend = left - 2.0 * log_power(about_hz) + right;
        if (!(bend < 0.0)) break;
        about_hz += side_hz * std::clamp(0.5 * (left - right) / bend, -1.0, 1.0);
    }
    return about_hz;
}

namespace {

std::vector<double> powers_around(const line_search& found, std::size_t top, double farthest_bins) {
    std::vector<double> around;
    for (std::size_t i = 0; i < found.power.size(); ++i) {
        const double bins =
            std::abs(static_cast<double>(i) - static_cast<double>(top)) / steps_per_bin;
        if (bins >= near_bins && bins <= farthest_bins) around.push_back(found.power[i]);
    }
    return around;
}

}  // namespace

noise_power noise_around(const line_search& found, std::size_t top, double farthest_bins) {
    auto around = powers_around(found, top, farthest_bins);
    if (around.empty()) return {};
    const double ln2 = std::log(2.0);
    const double independent = static_cast<double>(around.size()) / steps_per_bin / 1.5;
    return {median(std::move(around)) / ln2, std::max(1.0, ln2 * ln2 * independent)};
}

double mean_power_around(const line_search& found, std::size_t top, double farthest_bins) {
    const auto around = powers_around(found, top, farthest_bins);
    return around.empty() ? 0.0 : mean(around);
}

double needed_power(const noise_power& noise, double lines) {
    const double n = noise.estimates;
    return noise.mean * n * (std::pow(std::max(lines, 2.0) / chance, 1.0 / n) - 1.0);
}

double largest_beside(const line_search& found, double rate_hz) {
    double most = 0.0;
    for (std::size_t i = 0; i < found.power.size(); ++i) {
        const double here_hz = found.rate_hz(static_cast<double>(i));
        const double multiple = std::max(1.0, std::round(here_hz / rate_hz));
        if (std::abs(here_hz - multiple * rate_hz) >= near_bins * found.bin_hz)
            most = std::max(most, found.power[i]);
    }
    return most;
}

std::complex<double> line_phasor(const course_values& y, seconds spacing, double rate_hz) {
    const auto n = y.size();
    std::complex<double> sum{0.0, 0.0};
    double weight = 0.0;
    for (Eigen::Index i = 0; i < n; ++i) {
        const double w = weight_at(i, n);
        sum += w * y[i] *
               std::polar(1.0, -2.0 * pi * rate_hz * spacing.value() * static_cast<double>(i));
        weight += w;
    }
    return 2.0 / weight * sum;
}

}  // namespace cvrig::analysis
