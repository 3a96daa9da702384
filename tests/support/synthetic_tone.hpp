#pragma once

#include <complex>
#include <cstdint>
#include <vector>

#include "analysis/units.hpp"

/// Notes whose truth is known exactly: sums of sines, each with the response of the analogue filter
/// at its own frequency, nothing that aliases and nothing that settles.
namespace cvrig::test_support {

/// Four equal poles with feedback, as in the classic bass voices. Feedback 4 is the edge of
/// oscillation.
struct ladder_filter {
    hertz cutoff{1000.0};
    double feedback{0.0};
    /// (1 + feedback) / ((1 + i f / cutoff)^4 + feedback), so that 0 Hz passes with gain 1.
    [[nodiscard]] std::complex<double> response(hertz f) const;
};

enum class waveform { sine, saw, square, blend };

struct hum_lines {
    hertz mains{50.0};
    std::vector<volts> peaks{};  ///< at 1, 2, 3, ... times mains
};

struct synthetic_tone {
    hertz pitch{110.0};
    /// Element k is harmonic k + 1 at mid-record: Re(c exp(i w t)), so |c| is its peak in volts.
    std::vector<std::complex<double>> harmonics_volts{};
    per_second decay{0.0};
    /// Added to `decay` for harmonic k + 1; harmonics past the end have the common decay only.
    std::vector<per_second> own_decays{};
    hum_lines hum{};
    volts dc{0.0};
};

/// Harmonics of a wave of 1 V peak, through the filter, below `limit`; the phase of the wave is
/// free. Saw 2/(pi k), square 4/(pi k) for odd k (Fourier), blend half of each.
[[nodiscard]] std::vector<std::complex<double>> filtered_wave(waveform wave, hertz pitch,
                                                              const ladder_filter& filter,
                                                              hertz limit, double phase_radians);

/// Time 0 is the middle of the record.
[[nodiscard]] std::vector<double> rendered_volts(const synthetic_tone& tone, sample_rate rate,
                                                 std::size_t samples);

[[nodiscard]] double rms(const std::vector<double>& samples_volts);

/// White Gaussian noise, the same on every machine for the same seed.
[[nodiscard]] std::vector<double> white_noise(std::size_t samples, volts rms, std::uint64_t seed);

[[nodiscard]] std::vector<double> sum(std::vector<double> a, const std::vector<double>& b);

/// Uniform numbers from a seed, the same on every machine (splitmix64).
class seeded_draw {
public:
    explicit seeded_draw(std::uint64_t seed) noexcept : state_{seed} {}
    [[nodiscard]] double uniform(double low, double high) noexcept;
    [[nodiscard]] double log_uniform(double low, double high) noexcept;
    [[nodiscard]] double gaussian() noexcept;

private:
    std::uint64_t state_;
};

}  // namespace cvrig::test_support
