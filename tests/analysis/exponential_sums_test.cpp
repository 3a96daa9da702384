#include "analysis/exponential_sums.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "analysis/continuous_spectrum.hpp"
#include "tests/support/synthetic_tone.hpp"

using namespace cvrig::analysis;
using complex = std::complex<double>;

namespace {

/// The definition itself: element p is the sum of y u^p exp(s u), sample by sample.
std::array<complex, 4> summed(const std::vector<double>& y, complex s) {
    std::array<complex, 4> sums{};
    const double n = static_cast<double>(y.size());
    for (std::size_t j = 0; j < y.size(); ++j) {
        const double u = (2.0 * static_cast<double>(j) + 1.0) / n - 1.0;
        complex term = y[j] * std::exp(s * u);
        for (auto& sum : sums) {
            sum += term;
            term *= u;
        }
    }
    return sums;
}

const std::array<complex, 8> frequencies{complex{0.0, 0.0}, {0.0, -1.0}, {0.3, 0.7},
                                         {0.0, 10.3},       {0.5, 20.0}, {-1.0, 47.0},
                                         {-2.0, 33.3},      {-2.0, 0.0}};

}  // namespace

TEST_CASE("exponential sums: the closed form equals the sum, sample by sample",
          "[analysis][tone]") {
    const std::size_t samples = GENERATE(32U, 65U, 1000U, 4799U);
    const std::vector<double> ones(samples, 1.0);
    for (const complex s : frequencies) {
        const auto closed = exponential_sums({samples}, s);
        const auto direct = summed(ones, s);
        const double scale = std::abs(summed(ones, s.real())[0]);
        CAPTURE(samples, s);
        for (std::size_t p = 0; p < closed.size(); ++p)
            CHECK(std::abs(closed[p] - direct[p]) < 1e-11 * scale);
    }
}

TEST_CASE("exponential comb: each line equals the sum, line by line", "[analysis][tone]") {
    const std::size_t samples = GENERATE(32U, 1001U, 4096U);
    const double decay = GENERATE(0.0, -0.02, 1.3, -6.0);
    const double first = GENERATE(0.0, -7.25);
    const std::size_t count = std::min<std::size_t>(samples - 10, 2000);
    const double spacing = std::numbers::pi * static_cast<double>(samples) * 0.997 /
                           static_cast<double>(count);  // up to twice Nyquist
    const exponential_comb comb{{samples}, decay, first, spacing, count};
    const double scale =
        exponential_sums({samples}, decay)[0].real();  // every moment is smaller than this
    double worst = 0.0;
    for (std::size_t k = 0; k < count; ++k) {
        const auto single =
            exponential_sums({samples}, {decay, first + static_cast<double>(k) * spacing});
        for (std::size_t p = 0; p < single.size(); ++p)
            worst = std::max(
                worst, std::abs(complex{comb.order[p].re[k], comb.order[p].im[k]} - single[p]));
    }
    CAPTURE(samples, decay, first);
    CHECK(worst < 1e-11 * scale);  // the accuracy of each of the two against the plain sum
}

TEST_CASE("continuous spectrum: one FFT gives the transform at any frequency", "[analysis][tone]") {
    const std::size_t samples = GENERATE(32U, 65U, 1000U, 4799U);
    const auto noise = cvrig::test_support::white_noise(samples, cvrig::volts{1.0}, 7);
    double scale = 0.0;
    for (const double v : noise) scale += std::abs(v);
    const continuous_spectrum spectrum{noise};
    for (const complex s : frequencies) {
        const auto fast = spectrum.at(s);
        const auto direct = summed(noise, s);
        const auto low = spectrum.low_moments(s);
        // The aliases of the Gaussian grow with the decay.
        const double bound = s.real() < -1.0 ? 1e-8 : 1e-11;
        CAPTURE(samples, s);
        for (std::size_t p = 0; p < fast.size(); ++p)
            CHECK(std::abs(fast[p] - direct[p]) < bound * scale);
        for (std::size_t p = 0; p < low.size(); ++p)
            CHECK(std::abs(low[p] - fast[p]) < 1e-14 * scale);  // the same sums
    }
}
