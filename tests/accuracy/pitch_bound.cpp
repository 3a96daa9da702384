#include "tests/accuracy/pitch_bound.hpp"

#include <cmath>
#include <numbers>

#include "analysis/tone_hessian.hpp"

namespace cvrig::accuracy {
namespace {

using namespace cvrig::analysis;
constexpr double cents_per_ratio = 1200.0 / std::numbers::ln2;

/// Harmonics more than 40 dB below the noise of one bin change no digit of the bound.
std::size_t telling_harmonics(const trial& t) {
    const double bin_noise =
        t.noise_rms.value() * std::sqrt(2.0 / static_cast<double>(t.samples_volts.size()));
    std::size_t top = 1;
    for (std::size_t k = 0; k < t.tone.harmonics_volts.size(); ++k)
        if (std::abs(t.tone.harmonics_volts[k]) > 0.01 * bin_noise) top = k + 1;
    return top;
}

}  // namespace

cents full_bound(const trial& t) {
    const std::size_t n = t.samples_volts.size() - (t.samples_volts.size() % 2 == 0 ? 1 : 0);
    const double half_length = 0.5 * static_cast<double>(n) / t.rate.value();
    line_frequencies lines;
    lines.pitch = 2.0 * std::numbers::pi * t.tone.pitch.value() * half_length;
    lines.decay = t.tone.decay.value() * half_length;
    lines.harmonics = telling_harmonics(t);
    line_values a;
    a.harmonics.resize(static_cast<Eigen::Index>(lines.harmonics));
    for (std::size_t k = 0; k < lines.harmonics; ++k)
        a.harmonics(static_cast<Eigen::Index>(k)) = t.tone.harmonics_volts[k];
    tone_priors priors;
    if (!t.tone.hum.peaks.empty()) {
        lines.mains = 2.0 * std::numbers::pi * t.tone.hum.mains.value() * half_length;
        for (std::size_t m = 1; m < foreign_lines; ++m)
            a.foreign[m] = t.tone.hum.peaks[m - 1].value();
        // Mains is known to 0.4 % (as a uniform spread) before the record is seen.
        const double spread = 0.004 * lines.mains / std::sqrt(3.0);
        priors.mains = t.noise_rms.value() * t.noise_rms.value() / (spread * spread);
    }
    const harmonic_basis basis{record_grid{n}, lines};
    const tone_hessian information{basis, columns_of(basis, a), priors, lines.harmonics};
    const double deviation = t.noise_rms.value() * std::sqrt(information.pitch_variance());
    return cents{cents_per_ratio * deviation / lines.pitch};
}

cents harmonic_bound(const trial& t) {
    const double n = static_cast<double>(t.samples_volts.size());
    double sum = 0.0;
    for (std::size_t k = 0; k < t.tone.harmonics_volts.size(); ++k) {
        const double order = static_cast<double>(k + 1);
        sum += order * order * std::norm(t.tone.harmonics_volts[k]);
    }
    const double noise = t.noise_rms.value();
    const double deviation = std::sqrt(24.0 * noise * noise / (n * (n * n - 1.0) * sum));
    return cents{cents_per_ratio * deviation * t.rate.value() /
                 (2.0 * std::numbers::pi * t.tone.pitch.value())};
}

}  // namespace cvrig::accuracy
