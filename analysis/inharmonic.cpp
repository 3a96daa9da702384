#include "analysis/inharmonic.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "analysis/fourier.hpp"
#include "analysis/samples.hpp"
#include "analysis/window.hpp"

namespace cvrig::analysis {

namespace {

constexpr double main_lobe_bins = 6.0;
constexpr double closest_bins = 32.0;
constexpr std::size_t fewest_samples = 256;

/// Powers of a record's bins, scaled so that their sum is its mean square.
struct power_spectrum {
    std::vector<double> power;
    double bin_hz;
    double freedom_per_bin;  ///< of noise, two for a rectangular window
};

power_spectrum spectrum_of(std::span<const double> record, sample_rate rate) {
    const std::size_t n = fast_length_at_most(record.size());
    const auto used = record.first(n);
    const double offset = mean(used);
    std::vector<double> windowed(n);
    const auto a = cosine_coefficients(window_kind::blackman_harris);
    const auto turn = std::polar(1.0, 2.0 * std::numbers::pi / static_cast<double>(n));
    std::complex<double> now{1.0, 0.0};
    double squares = 0.0;
    double fourths = 0.0;
    // As make_window, but quicker: one angle turned on, its multiples by Chebyshev's polynomials.
    for (std::size_t i = 0; i < n; ++i, now *= turn) {
        const double c = now.real();
        const double w =
            a[0] - a[1] * c + a[2] * (2.0 * c * c - 1.0) - a[3] * c * (4.0 * c * c - 3.0);
        squares += w * w;
        fourths += w * w * w * w;
        windowed[i] = w * (used[i] - offset);
    }
    const auto size = static_cast<double>(n);
    power_spectrum out{{}, rate.value() / size, 2.0 * squares * squares / (size * fourths)};
    for (const auto& bin : real_transform(windowed))
        out.power.push_back(2.0 * std::norm(bin) / (size * squares));
    return out;
}

struct parts {
    double harmonic{0.0};
    double rest{0.0};
    std::size_t rest_bins{0};
    std::size_t loudest{0};
};

parts part_at(const power_spectrum& s, hertz pitch, double lowest_hz, double highest_hz) {
    parts out;
    const auto first = static_cast<std::size_t>(std::ceil(lowest_hz / s.bin_hz));
    const auto end =
        std::min(s.power.size(), static_cast<std::size_t>(std::floor(highest_hz / s.bin_hz)) + 1);
    for (std::size_t k = first; k < end; ++k) {
        const double f = static_cast<double>(k) * s.bin_hz;
        const double away = std::abs(std::remainder(f, pitch.value())) / s.bin_hz;
        if (away <= main_lobe_bins) {
            out.harmonic += s.power[k];
            continue;
        }
        out.rest += s.power[k];
        ++out.rest_bins;
        if (out.loudest == 0 || s.power[k] > s.power[out.loudest]) out.loudest = k;
    }
    return out;
}

/// Mean square of a silence's noise in so many hertz.
struct noise_power {
    double power;
    double freedom;
};

noise_power noise_in(const power_spectrum& s, double lowest_hz, double highest_hz, double used_hz) {
    const auto first = static_cast<std::size_t>(std::ceil(lowest_hz / s.bin_hz));
    const auto end =
        std::min(s.power.size(), static_cast<std::size_t>(std::floor(highest_hz / s.bin_hz)) + 1);
    double sum = 0.0;
    for (std::size_t k = first; k < end; ++k) sum += s.power[k];
    const auto count = static_cast<double>(end - first);
    return {sum * used_hz / (count * s.bin_hz), count * s.freedom_per_bin};
}

}  // namespace

outcome<inharmonic_reading> measure_inharmonic(std::span<const double> note_volts,
                                               std::span<const double> silence_volts,
                                               sample_rate rate, hertz pitch) {
    if (!(rate.value() > 0.0) || !(pitch.value() > 0.0)) return refuse(refusal::bad_argument);
    if (note_volts.size() < fewest_samples || silence_volts.size() < fewest_samples)
        return refuse(refusal::too_short);
    if (!all_finite(note_volts) || !all_finite(silence_volts)) return refuse(refusal::not_finite);
    const double lowest_hz = pitch.value() / 2.0;
    const double highest_hz = std::min(20000.0, 0.45 * rate.value());
    if (highest_hz < 2.0 * pitch.value()) return refuse(refusal::bad_argument);
    const auto note = spectrum_of(note_volts, rate);
    if (pitch.value() / note.bin_hz < closest_bins) return refuse(refusal::too_short);
    const auto of = part_at(note, pitch, lowest_hz, highest_hz);
    const auto noise = noise_in(spectrum_of(silence_volts, rate), lowest_hz, highest_hz,
                                static_cast<double>(of.rest_bins) * note.bin_hz);
    if (of.harmonic <= of.rest || of.harmonic <= 0.0) return refuse(refusal::silent);

    const double freedom = static_cast<double>(of.rest_bins) * note.freedom_per_bin;
    const double left = of.rest - noise.power;
    // Line times noise: a line of power P in noise of p for each bin scatters by this much more.
    const double per_bin =
        noise.power / static_cast<double>(std::max<std::size_t>(of.rest_bins, 1));
    const double variance =
        noise.power * noise.power * 2.0 * (1.0 / freedom + 1.0 / noise.freedom) +
        4.0 * std::max(left, 0.0) * per_bin / note.freedom_per_bin;
    const double u = std::sqrt(variance);
    const double shown = std::max({left, u, 1e-15 * of.harmonic});
    return inharmonic_reading{
        decibels{10.0 * std::log10(shown / of.harmonic)},
        decibels{10.0 / std::log(10.0) * u / shown},
        hertz{static_cast<double>(of.loudest) * note.bin_hz},
        decibels{10.0 * std::log10(std::max(noise.power, 1e-30) / of.harmonic)}};
}

}  // namespace cvrig::analysis
