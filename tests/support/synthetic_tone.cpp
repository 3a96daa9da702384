#include "tests/support/synthetic_tone.hpp"

#include <cmath>
#include <numbers>

namespace cvrig::test_support {
namespace {

using complex = std::complex<double>;
constexpr double pi = std::numbers::pi;

/// Adds Re(c exp((-decay + i w) t)). A rotating phasor, set anew often enough to stay exact.
void add_line(std::vector<double>& out, complex c, double radians, double nepers) {
    constexpr std::size_t stretch = 64;
    const double middle = 0.5 * (static_cast<double>(out.size()) - 1.0);
    const complex turn = std::exp(complex{-nepers, radians});
    complex z;
    for (std::size_t n = 0; n < out.size(); ++n) {
        if (n % stretch == 0) {
            const double t = static_cast<double>(n) - middle;
            z = c * std::polar(std::exp(-nepers * t), std::remainder(radians * t, 2.0 * pi));
        }
        out[n] += z.real();
        z = {z.real() * turn.real() - z.imag() * turn.imag(),
             z.real() * turn.imag() + z.imag() * turn.real()};
    }
}

double wave_share(waveform wave, std::size_t k) {
    const double order = static_cast<double>(k);
    const double saw = 2.0 / (pi * order);
    const double square = k % 2 == 1 ? 4.0 / (pi * order) : 0.0;
    switch (wave) {
        case waveform::sine:
            return k == 1 ? 1.0 : 0.0;
        case waveform::saw:
            return saw;
        case waveform::square:
            return square;
        case waveform::blend:
            break;
    }
    return 0.5 * (saw + square);
}

}  // namespace

complex ladder_filter::response(hertz f) const {
    const complex pole{1.0, f / cutoff};
    return (1.0 + feedback) / (pole * pole * pole * pole + feedback);
}

std::vector<complex> filtered_wave(waveform wave, hertz pitch, const ladder_filter& filter,
                                   hertz limit, double phase_radians) {
    std::vector<complex> harmonics;
    for (std::size_t k = 1; pitch.value() * static_cast<double>(k) < limit.value(); ++k) {
        const double order = static_cast<double>(k);
        // A falling saw and a square are sine series: phase -90 degrees as cosines.
        const complex source = std::polar(wave_share(wave, k), order * phase_radians - pi / 2.0);
        harmonics.push_back(source * filter.response(pitch * order));
    }
    return harmonics;
}

std::vector<double> rendered_volts(const synthetic_tone& tone, sample_rate rate,
                                   std::size_t samples) {
    std::vector<double> out(samples, tone.dc.value());
    const double to_radians = 2.0 * pi / rate.value();
    for (std::size_t k = 0; k < tone.harmonics_volts.size(); ++k) {
        const double own = k < tone.own_decays.size() ? tone.own_decays[k].value() : 0.0;
        add_line(out, tone.harmonics_volts[k],
                 to_radians * tone.pitch.value() * static_cast<double>(k + 1),
                 (tone.decay.value() + own) / rate.value());
    }
    for (std::size_t m = 0; m < tone.hum.peaks.size(); ++m)
        add_line(out, std::polar(tone.hum.peaks[m].value(), 0.7 + 1.9 * static_cast<double>(m)),
                 to_radians * tone.hum.mains.value() * static_cast<double>(m + 1), 0.0);
    return out;
}

double rms(const std::vector<double>& samples_volts) {
    double sum = 0.0;
    for (const double v : samples_volts) sum += v * v;
    return std::sqrt(sum / static_cast<double>(samples_volts.size()));
}

std::vector<double> white_noise(std::size_t samples, volts rms, std::uint64_t seed) {
    seeded_draw draw{seed};
    std::vector<double> out(samples);
    for (double& v : out) v = rms.value() * draw.gaussian();
    return out;
}

std::vector<double> sum(std::vector<double> a, const std::vector<double>& b) {
    for (std::size_t n = 0; n < a.size(); ++n) a[n] += b[n];
    return a;
}

double seeded_draw::uniform(double low, double high) noexcept {
    state_ += 0x9e3779b97f4a7c15U;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30U)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27U)) * 0x94d049bb133111ebU;
    z ^= z >> 31U;
    return low + (high - low) * static_cast<double>(z >> 11U) * 0x1.0p-53;
}

double seeded_draw::log_uniform(double low, double high) noexcept {
    return std::exp(uniform(std::log(low), std::log(high)));
}

double seeded_draw::gaussian() noexcept {
    const double radius = std::sqrt(-2.0 * std::log(1.0 - uniform(0.0, 1.0)));
    return radius * std::cos(uniform(0.0, 2.0 * pi));
}

}  // namespace cvrig::test_support
