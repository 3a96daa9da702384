#pragma once

#include <cmath>
#include <cstddef>
#include <numbers>
#include <vector>

/// Test signals whose exact properties follow from algebra.
namespace synthesis {

struct partial {
    double peak_volts;
    double phase_radians;
};

/// Sum of peak * cos(2 pi k f (t - delay) + phase), harmonics k = 1, 2, ...
inline std::vector<double> additive(const std::vector<partial>& partials, double frequency_hz,
                                    double rate_hz, std::size_t samples, double delay_samples = 0) {
    std::vector<double> out(samples);
    for (std::size_t n = 0; n < samples; ++n) {
        const double turn = 2 * std::numbers::pi * frequency_hz / rate_hz *
                            (static_cast<double>(n) - delay_samples);
        for (std::size_t k = 0; k < partials.size(); ++k)
            out[n] += partials[k].peak_volts *
                      std::cos(static_cast<double>(k + 1) * turn + partials[k].phase_radians);
    }
    return out;
}

/// Fourier series of a falling sawtooth between -1 and +1 V: 2 / (pi k) sin.
inline std::vector<partial> sawtooth(std::size_t harmonics) {
    std::vector<partial> p;
    for (std::size_t k = 1; k <= harmonics; ++k)
        p.push_back({2 / (std::numbers::pi * static_cast<double>(k)), -std::numbers::pi / 2});
    return p;
}

/// Fourier series of a square between -1 and +1 V: 4 / (pi k) sin, odd k.
inline std::vector<partial> square(std::size_t harmonics) {
    auto p = sawtooth(harmonics);
    for (std::size_t k = 1; k <= harmonics; ++k) p[k - 1].peak_volts *= k % 2 ? 2 : 0;
    return p;
}

/// Fourier series of a triangle between -1 and +1 V: 8 / (pi k)^2 cos, odd k.
inline std::vector<partial> triangle(std::size_t harmonics) {
    std::vector<partial> p;
    for (std::size_t k = 1; k <= harmonics; ++k) {
        const double pk = std::numbers::pi * static_cast<double>(k);
        p.push_back({k % 2 ? 8 / (pk * pk) : 0, 0});
    }
    return p;
}

/// Repeatable uniform noise with standard deviation `sigma` (xorshift; not a library generator, so
/// that every platform gets the same bits).
inline std::vector<double> noise(std::size_t samples, double sigma, unsigned long long seed) {
    std::vector<double> out(samples);
    auto state = seed * 0x9E3779B97F4A7C15ull + 1;
    for (double& v : out) {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        v = sigma * std::sqrt(12.0) * (static_cast<double>(state >> 11) * 0x1p-53 - 0.5);
    }
    return out;
}

inline std::vector<double> sum(std::vector<double> a, const std::vector<double>& b) {
    for (std::size_t i = 0; i < a.size(); ++i) a[i] += b[i];
    return a;
}

inline std::vector<partial> scaled_partials(std::vector<partial> p, double gain) {
    for (auto& one : p) one.peak_volts *= gain;
    return p;
}

inline std::vector<double> scaled(std::vector<double> a, double gain) {
    for (double& v : a) v *= gain;
    return a;
}

}  // namespace synthesis
