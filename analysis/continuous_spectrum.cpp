#include "analysis/continuous_spectrum.hpp"

#include <cmath>
#include <kissfft/kissfft.hh>
#include <numbers>

namespace cvrig::analysis {
namespace {

using complex = std::complex<double>;

// The Gaussian exp(boost u^2). Its alias at |u| >= 3 is exp(-8 boost) = 1e-13 down; `reach` bins on
// each side cut the falling one off at the same level.
constexpr double boost = 3.75;
constexpr std::ptrdiff_t reach = 15;
constexpr std::ptrdiff_t margin = reach + 2;

/// The smallest product of 2, 3 and 5 from `least` up: sizes that the FFT does fast.
std::size_t smooth_size(std::size_t least) {
    for (std::size_t size = least;; ++size) {
        std::size_t rest = size;
        for (const std::size_t prime : {2U, 3U, 5U})
            while (rest % prime == 0) rest /= prime;
        if (rest == 1) return size;
    }
}

/// Mid-record at index 0 (or half a sample before it, of an even number), the first half wrapped to
/// the end, zeros between.
std::vector<double> boosted_and_wrapped(std::span<const double> samples, std::size_t fft_size) {
    std::vector<double> out(fft_size, 0.0);
    const std::size_t count = samples.size();
    const std::size_t half = count / 2;
    const double step = 2.0 / static_cast<double>(count);
    const double shift = count % 2 == 0 ? 0.5 : 0.0;
    for (std::size_t j = 0; j < count - half; ++j) {
        const double u = (static_cast<double>(j) + shift) * step;
        const double gain = std::exp(boost * u * u);
        const std::size_t mirror = count - 1 - half - j;
        out[j] = gain * samples[half + j];
        if (mirror != half + j) out[(fft_size - half + mirror) % fft_size] = gain * samples[mirror];
    }
    return out;
}

}  // namespace

continuous_spectrum::continuous_spectrum(std::span<const double> samples)
    : grid_{samples.size()}, fft_size_{2 * smooth_size(grid_.samples)} {
    const std::size_t half = fft_size_ / 2;
    const std::vector<double> input = boosted_and_wrapped(samples, fft_size_);
    std::vector<complex> output(half + 1);
    // kissfft packs Nyquist into the imaginary part of bin 0 and leaves the last bin alone.
    kissfft<double>{half, false}.transform_real(input.data(), output.data());
    output[half] = output[0].imag();
    output[0] = output[0].real();
    bins_.resize(half + 1 + 2 * margin);
    for (std::size_t i = 0; i < bins_.size(); ++i) {
        const auto bin = static_cast<std::ptrdiff_t>(i) - margin;
        const auto top = static_cast<std::ptrdiff_t>(half);
        bins_[i] = bin < 0     ? std::conj(output[static_cast<std::size_t>(-bin)])
                   : bin > top ? std::conj(output[static_cast<std::size_t>(2 * top - bin)])
                               : output[static_cast<std::size_t>(bin)];
    }
}

double continuous_spectrum::bins_per_cycle() const noexcept {
    return static_cast<double>(fft_size_) / static_cast<double>(grid_.samples);
}

std::array<complex, 4> continuous_spectrum::at(complex s) const {
    // y is real, so exp(s u) with a positive frequency is the conjugate of the transform's own.
    const double spacing = std::numbers::pi / bins_per_cycle();
    const double frequency = std::abs(s.imag());
    const double decay = s.real();
    const auto nearest = static_cast<std::ptrdiff_t>(std::lround(frequency / spacing));
    const double offset = frequency - static_cast<double>(nearest) * spacing;
    // Complex distance from bin j: d = offset - j spacing + i decay; weight exp(-d^2 / (4 boost)).
    const double narrow = 1.0 / (4.0 * boost);
    // An even number of samples lies half a sample beside the FFT's own time.
    const double lag =
        grid_.samples % 2 == 0 ? std::numbers::pi / static_cast<double>(fft_size_) : 0.0;
    const complex turn = std::polar(1.0, 2.0 * narrow * decay * spacing - lag);
    complex phase =
        std::polar(std::exp(narrow * decay * decay),
                   -2.0 * narrow * decay * (offset + static_cast<double>(reach) * spacing) -
                       lag * static_cast<double>(nearest - reach));
    std::array<complex, 4> sums{};
    for (std::ptrdiff_t j = -reach; j <= reach; ++j) {
        const double real_distance = offset - static_cast<double>(j) * spacing;
        const double gauss = std::exp(-narrow * real_distance * real_distance);
        const complex bin = bins_[static_cast<std::size_t>(nearest + j + margin)];
        const complex weight = gauss * phase;
        complex term{bin.real() * weight.real() - bin.imag() * weight.imag(),
                     bin.real() * weight.imag() + bin.imag() * weight.real()};
        const complex distance{real_distance, decay};
        for (auto& sum : sums) {
            sum += term;
            term = {term.real() * distance.real() - term.imag() * distance.imag(),
                    term.real() * distance.imag() + term.imag() * distance.real()};
        }
        phase = {phase.real() * turn.real() - phase.imag() * turn.imag(),
                 phase.real() * turn.imag() + phase.imag() * turn.real()};
    }
    // Each power of u is i d/d(frequency), which brings Hermite polynomials of the distance.
    const double scale = spacing / std::sqrt(4.0 * std::numbers::pi * boost);
    const double w = 2.0 * narrow;
    const complex i{0.0, 1.0};
    const std::array<complex, 4> moments{
        scale * sums[0], scale * i * (-w * sums[1]), -scale * (w * w * sums[2] - w * sums[0]),
        scale * -i * (-w * w * w * sums[3] + 3.0 * w * w * sums[1])};
    if (s.imag() <= 0.0) return moments;
    return {std::conj(moments[0]), std::conj(moments[1]), std::conj(moments[2]),
            std::conj(moments[3])};
}

std::vector<double> continuous_spectrum::windowed_power() const {
    // cos^6 in time is seven bins, two apart; times the growing Gaussian it is a bell much like
    // Hann's.
    const std::size_t count = fft_size_ / 2 + 1;
    std::vector<double> power(count);
    const complex* bin = bins_.data() + margin;
    for (std::size_t j = 0; j < count; ++j, ++bin) {
        const complex v = 0.3125 * bin[0] + 0.234375 * (bin[-2] + bin[2]) +
                          0.09375 * (bin[-4] + bin[4]) + 0.015625 * (bin[-6] + bin[6]);
        power[j] = v.real() * v.real() + v.imag() * v.imag();
    }
    return power;
}

}  // namespace cvrig::analysis
