#include "analysis/continuous_spectrum.hpp"

#include <Eigen/Dense>
#include <cmath>
#include <kissfft/kissfft.hh>
#include <numbers>

#include "analysis/fourier.hpp"

namespace cvrig::analysis {
namespace {

using complex = std::complex<double>;

// The Gaussian exp(boost u^2). Its alias at |u| >= 3 is exp(-8 boost) = 1e-13 down; `reach` bins on
// each side cut the falling one off at the same level.
constexpr double boost = 3.75;
constexpr std::ptrdiff_t reach = 15;
constexpr std::ptrdiff_t margin = reach + 2;
constexpr double narrow = 1.0 / (4.0 * boost);  // the falling one is exp(-narrow distance^2)

complex times(complex a, complex b) {
    return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
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
    : grid_{samples.size()}, fft_size_{2 * smooth_length_at_least(grid_.samples)} {
    const std::size_t half = fft_size_ / 2;
    const std::vector<double> input = boosted_and_wrapped(samples, fft_size_);
    std::vector<complex> output(half + 1);
    // kissfft packs Nyquist into the imaginary part of bin 0 and leaves the last bin alone.
    kissfft<double>{half, false}.transform_real(input.data(), output.data());
    output[half] = output[0].imag();
    output[0] = output[0].real();
    re_.resize(half + 1 + 2 * margin);
    im_.resize(re_.size());
    for (std::size_t i = 0; i < re_.size(); ++i) {
        const auto bin = static_cast<std::ptrdiff_t>(i) - margin;
        const auto top = static_cast<std::ptrdiff_t>(half);
        const bool mirrored = bin < 0 || bin > top;
        const std::ptrdiff_t from = bin < 0 ? -bin : bin > top ? 2 * top - bin : bin;
        const complex value = output[static_cast<std::size_t>(from)];
        re_[i] = value.real();
        im_[i] = mirrored ? -value.imag() : value.imag();
    }
    const double spacing = std::numbers::pi / bins_per_cycle();
    for (std::size_t i = 0; i <= 2 * reach; ++i) {
        const double distance = (static_cast<double>(i) - reach) * spacing;
        double value = std::exp(-narrow * distance * distance);
        for (auto& order : falling_) {
            order[i] = value;
            value *= distance;
        }
    }
}

double continuous_spectrum::bins_per_cycle() const noexcept {
    return static_cast<double>(fft_size_) / static_cast<double>(grid_.samples);
}

/// Sum over the bins of bin * Gaussian * distance^p * first * ratio^index, p = 0 ... Orders - 1.
template <std::size_t Orders>
std::array<complex, Orders> continuous_spectrum::weighted_sums(const double* re, const double* im,
                                                               complex first, complex ratio) const {
    using values = Eigen::Array<double, static_cast<int>(span_bins), 1>;
    values turn_re;
    values turn_im;
    turn_re(0) = first.real();
    turn_im(0) = first.imag();
    // Each doubling multiplies all powers so far by the next one: few steps wait for each other.
    for (int have = 1; have < static_cast<int>(span_bins); have *= 2) {
        for (int i = 0; i < have; ++i) {
            turn_re(have + i) = turn_re(i) * ratio.real() - turn_im(i) * ratio.imag();
            turn_im(have + i) = turn_re(i) * ratio.imag() + turn_im(i) * ratio.real();
        }
        ratio = {ratio.real() * ratio.real() - ratio.imag() * ratio.imag(),
                 2.0 * ratio.real() * ratio.imag()};
    }
    const Eigen::Map<const values> bin_re{re};
    const Eigen::Map<const values> bin_im{im};
    const values term_re = bin_re * turn_re - bin_im * turn_im;
    const values term_im = bin_re * turn_im + bin_im * turn_re;
    std::array<complex, Orders> sums;
    for (std::size_t p = 0; p < Orders; ++p) {
        const Eigen::Map<const values> falling{falling_[p].data()};
        sums[p] = {(term_re * falling).sum(), (term_im * falling).sum()};
    }
    return sums;
}

template <std::size_t Orders>
std::array<complex, Orders> continuous_spectrum::moments(complex s) const {
    // y is real, so exp(s u) with a positive frequency is the conjugate of the transform's own.
    const double spacing = std::numbers::pi / bins_per_cycle();
    const double frequency = std::abs(s.imag());
    const auto nearest = static_cast<std::ptrdiff_t>(std::lround(frequency / spacing));
    const double centre = static_cast<double>(nearest);
    // Complex distance from bin `nearest`: d; from the j-th one after it: d - j spacing. So the
    // Gaussian exp(-narrow (d - j spacing)^2) is a real one of j times a power of j.
    const complex d{frequency - centre * spacing, s.real()};
    const complex d2 = times(d, d);
    // An even number of samples lies half a sample beside the FFT's own time.
    const double lag =
        grid_.samples % 2 == 0 ? std::numbers::pi / static_cast<double>(fft_size_) : 0.0;
    const complex log_ratio = 2.0 * narrow * spacing * d - complex{0.0, lag};
    const complex log_first =
        -narrow * d2 - complex{0.0, lag * centre} - static_cast<double>(reach) * log_ratio;
    const std::size_t at = static_cast<std::size_t>(nearest + margin - reach);
    const auto t = weighted_sums<Orders>(re_.data() + at, im_.data() + at, std::exp(log_first),
                                         std::exp(log_ratio));
    // Each power of u is i d/d(frequency), which brings Hermite polynomials of the distance.
    const double scale = spacing / std::sqrt(4.0 * std::numbers::pi * boost);
    const double w = 2.0 * narrow;
    const complex first = times(d, t[0]) - t[1];
    std::array<complex, Orders> m;
    m[0] = scale * t[0];
    m[1] = scale * w * complex{first.imag(), -first.real()};
    if constexpr (Orders == 4) {
        const complex second = times(d2, t[0]) - 2.0 * times(d, t[1]) + t[2];
        const complex third = times(d, times(d2, t[0]) + 3.0 * t[2]) - 3.0 * times(d2, t[1]) - t[3];
        const complex cubic = -w * w * w * third + 3.0 * w * w * first;
        m[2] = -scale * (w * w * second - w * t[0]);
        m[3] = scale * complex{cubic.imag(), -cubic.real()};
    }
    if (s.imag() > 0.0)
        for (complex& value : m) value = std::conj(value);
    return m;
}

std::array<complex, 4> continuous_spectrum::at(complex s) const {
    return moments<4>(s);
}

std::array<complex, 2> continuous_spectrum::low_moments(complex s) const {
    return moments<2>(s);
}

std::vector<double> continuous_spectrum::windowed_power() const {
    // cos^6 in time is seven bins, two apart; times the growing Gaussian it is a bell much like
    // Hann's.
    const std::size_t count = fft_size_ / 2 + 1;
    std::vector<double> power(count);
    const auto smoothed = [](const double* bin) {
        return 0.3125 * bin[0] + 0.234375 * (bin[-2] + bin[2]) + 0.09375 * (bin[-4] + bin[4]) +
               0.015625 * (bin[-6] + bin[6]);
    };
    for (std::size_t j = 0; j < count; ++j) {
        const double re = smoothed(re_.data() + margin + j);
        const double im = smoothed(im_.data() + margin + j);
        power[j] = re * re + im * im;
    }
    return power;
}

}  // namespace cvrig::analysis
