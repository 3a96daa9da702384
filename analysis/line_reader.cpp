#include "analysis/line_reader.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "analysis/fourier.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {

namespace {

constexpr double pi = std::numbers::pi;
constexpr std::size_t fewest_samples = 64;
constexpr std::ptrdiff_t reach = 5;
// Sums of the periodic Hann window over its length: of w^2 3/8, of w^4 35/128.
constexpr double mean_w2 = 3.0 / 8.0;
constexpr double mean_w4 = 35.0 / 128.0;

/// Transforms of exp(i 2 pi nu t / n), as long as the record, at the bins about nu; divided by n.
class rectangle_transform {
public:
    rectangle_transform(double nu, std::ptrdiff_t nearest, std::size_t n) {
        const auto size = static_cast<double>(n);
        const double delta = nu - static_cast<double>(nearest);
        const std::complex<double> turn = std::polar(1.0, -pi * (size - 1.0) / size);
        std::complex<double> phase =
            std::polar(1.0, pi * (delta + static_cast<double>(reach + 1)) * (size - 1.0) / size);
        const double sine = std::sin(pi * delta);
        for (std::ptrdiff_t m = -reach - 1; m <= reach + 1; ++m) {
            const double away = delta - static_cast<double>(m);
            const double sign = m % 2 == 0 ? 1.0 : -1.0;
            const double kernel =
                std::abs(away) < 1e-9 ? 1.0 : sign * sine / (size * std::sin(pi * away / size));
            values_[static_cast<std::size_t>(m + reach + 1)] = kernel * phase;
            phase *= turn;
        }
    }
    /// At `m` bins above the nearest one, under a Hann window.
    [[nodiscard]] std::complex<double> hann(std::ptrdiff_t m) const noexcept {
        const auto i = static_cast<std::size_t>(m + reach + 1);
        return 0.5 * values_[i] - 0.25 * (values_[i - 1] + values_[i + 1]);
    }

private:
    std::array<std::complex<double>, static_cast<std::size_t>(2 * reach + 3)> values_{};
};

}  // namespace

line_level level_of_line(volts peak, volts u) noexcept {
    const double u2 = std::max(u.value() * u.value(), 1e-30);
    const double power = std::max(0.0, peak.value() * peak.value() - 2.0 * u2);
    const double u_power = std::sqrt(4.0 * power * u2 + 4.0 * u2 * u2);
    const double shown = std::max(power, u_power);
    return {to_dbu(volts{std::sqrt(shown / 2.0)}),
            decibels{10.0 / std::log(10.0) * u_power / shown}};
}

outcome<line_reader> line_reader::of(std::span<const double> samples_volts, sample_rate rate) {
    if (!(rate.value() > 0.0) || !std::isfinite(rate.value())) return refuse(refusal::bad_argument);
    if (samples_volts.size() < fewest_samples) return refuse(refusal::too_short);
    if (!all_finite(samples_volts)) return refuse(refusal::not_finite);
    line_reader out;
    out.used_ = fast_length_at_most(samples_volts.size());
    const auto used = samples_volts.first(out.used_);
    const double offset = mean(used);
    std::vector<double> windowed(used.size());
    const auto turn = std::polar(1.0, 2.0 * pi / static_cast<double>(used.size()));
    std::complex<double> now{1.0, 0.0};
    // Turned on from sample to sample, which is quicker than a cosine for each; over a million
    // samples it drifts by some 1e-10.
    for (std::size_t i = 0; i < used.size(); ++i) {
        windowed[i] = (0.5 - 0.5 * now.real()) * (used[i] - offset);
        now *= turn;
    }
    out.bins_ = real_transform(windowed);
    out.bin_width_ = hertz{rate.value() / static_cast<double>(out.used_)};
    return out;
}

std::complex<double> line_reader::bin_at(std::ptrdiff_t k) const noexcept {
    const auto last = static_cast<std::ptrdiff_t>(bins_.size()) - 1;
    if (k < 0) return std::conj(bins_[static_cast<std::size_t>(std::min(-k, last))]);
    if (k > last)
        return std::conj(
            bins_[static_cast<std::size_t>(std::max(2 * last - k, std::ptrdiff_t{0}))]);
    return bins_[static_cast<std::size_t>(k)];
}

std::complex<double> line_reader::at(hertz f) const {
    const double nu = f / bin_width_;
    const auto nearest = static_cast<std::ptrdiff_t>(std::llround(nu));
    const rectangle_transform line{nu, nearest, used_};
    std::complex<double> sum;
    for (std::ptrdiff_t m = -reach; m <= reach; ++m)
        sum += bin_at(nearest + m) * std::conj(line.hann(m));
    return 2.0 * sum / (mean_w2 * static_cast<double>(used_));
}

volts line_reader::noise_near(hertz f) const {
    constexpr std::ptrdiff_t nearest = 8;
    constexpr std::ptrdiff_t furthest = 32;
    const auto centre = static_cast<std::ptrdiff_t>(std::llround(f / bin_width_));
    std::vector<double> powers;
    for (std::ptrdiff_t m = nearest; m <= furthest; ++m) {
        powers.push_back(std::norm(bin_at(centre + m)));
        powers.push_back(std::norm(bin_at(centre - m)));
    }
    const std::size_t rank = powers.size() / 2;
    const auto middle = powers.begin() + static_cast<std::ptrdiff_t>(rank);
    std::nth_element(powers.begin(), middle, powers.end());
    // The power of a bin of noise is distributed exponentially; what its median is of its mean on
    // average (H. A. David, "Order Statistics", 1970): close to ln 2.
    double median_of_mean = 0.0;
    for (std::size_t i = powers.size() - rank; i <= powers.size(); ++i)
        median_of_mean += 1.0 / static_cast<double>(i);
    const auto n = static_cast<double>(used_);
    const double sample_variance = *middle / median_of_mean / (mean_w2 * n);
    return volts{2.0 / (mean_w2 * n) * std::sqrt(sample_variance * mean_w4 * n / 2.0)};
}

double line_reader::power_in_bin(std::size_t bin) const noexcept {
    const auto n = static_cast<double>(used_);
    const double sides = bin == 0 || bin + 1 == bins_.size() ? 1.0 : 2.0;
    return sides * std::norm(bins_[bin]) / (n * n * mean_w2);
}

hertz line_reader::interpolated(std::size_t bin) const {
    if (bin == 0 || bin + 1 >= bins_.size()) return bin_width_ * static_cast<double>(bin);
    const double here = std::abs(bins_[bin]);
    const double below = std::abs(bins_[bin - 1]);
    const double above = std::abs(bins_[bin + 1]);
    const double ratio = std::max(below, above) / std::max(here, 1e-300);
    const double shift = (2.0 * ratio - 1.0) / (ratio + 1.0);
    return bin_width_ * (static_cast<double>(bin) + (above >= below ? shift : -shift));
}

}  // namespace cvrig::analysis
