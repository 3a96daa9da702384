#include "analysis/fourier.hpp"

#include <kissfft/kissfft.hh>

namespace cvrig::analysis {

namespace {

bool is_fast(std::size_t n) {
    if (n < 2 || n % 2 != 0) return false;
    for (const std::size_t factor : {2u, 3u, 5u, 7u})
        while (n % factor == 0) n /= factor;
    return n == 1;
}

}  // namespace

std::size_t fast_length_at_most(std::size_t n) noexcept {
    while (n >= 2 && !is_fast(n)) --n;
    return n >= 2 ? n : 0;
}

std::size_t fast_length_at_least(std::size_t n) noexcept {
    while (!is_fast(n)) ++n;
    return n;
}

std::size_t smooth_length_at_least(std::size_t n) noexcept {
    for (std::size_t size = n;; ++size) {
        std::size_t rest = size;
        for (const std::size_t prime : {2U, 3U, 5U})
            while (rest % prime == 0) rest /= prime;
        if (rest == 1) return size;
    }
}

std::vector<complex_volts> real_transform(std::span<const double> samples) {
    const std::size_t half = samples.size() / 2;
    std::vector<complex_volts> bins(half + 1);
    kissfft<double>{half, false}.transform_real(samples.data(), bins.data());
    // The library packs the last bin, which is real, into the imaginary part of the first.
    bins[half] = bins[0].imag();
    bins[0] = bins[0].real();
    return bins;
}

std::vector<complex_volts> transform(std::span<const complex_volts> x, bool inverse) {
    std::vector<complex_volts> out(x.size());
    kissfft<double>{x.size(), inverse}.transform(x.data(), out.data());
    return out;
}

}  // namespace cvrig::analysis
