#include "analysis/exponential_sums.hpp"

#include <catch2/catch.hpp>
#include <cmath>

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

TEST_CASE("continuous spectrum: one FFT gives the transform at any frequency", "[analysis][tone]") {
    const std::size_t samples = GENERATE(32U, 65U, 1000U, 4799U);
    const auto noise = cvrig::test_support::white_noise(samples, cvrig::volts{1.0}, 7);
    double scale = 0.0;
    for (const double v : noise) scale += std::abs(v);
    const continuous_spectrum spectrum{noise};
    for (const complex s : frequencies) {
        const auto fast = spectrum.at(s);
        const auto direct = summed(noise, s);
        // The aliases of the Gaussian grow with the decay.
        const double bound = s.real() < -1.0 ? 1e-8 : 1e-11;
        CAPTURE(samples, s);
        for (std::size_t p = 0; p < fast.size(); ++p)
            CHECK(std::abs(fast[p] - direct[p]) < bound * scale);
    }
}
