#include "analysis/darkening.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <complex>
#include <numbers>

using namespace cvrig;
using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;

namespace {

constexpr sample_rate rate{48000.0};

double amplitude_left(double f_hz, double highest_hz) {
    std::vector<double> line(9600);
    for (std::size_t i = 0; i < line.size(); ++i)
        line[i] = std::sin(2.0 * std::numbers::pi * f_hz * static_cast<double>(i) / rate.value());
    const auto out = darkened(line, rate, hertz{highest_hz});
    std::complex<double> sum;
    for (std::size_t i = 0; i < out.size(); ++i)
        sum += out[i] * std::polar(1.0, -2.0 * std::numbers::pi * f_hz * static_cast<double>(i) /
                                            rate.value());
    return 2.0 * std::abs(sum) / static_cast<double>(out.size());
}

}  // namespace

TEST_CASE("darkening leaves of a line what the Hann window's transform says") {
    // F. J. Harris, Proc. IEEE 66(1), 1978, table I: Hann, side lobes at -32 dB (0.0267 by its formula of
    // section V-C), 6 dB bandwidth 2.00 bins, so half of a line one bin off.
    CHECK_THAT(amplitude_left(20.0, 4000.0), WithinAbs(1.0, 5e-3));
    CHECK_THAT(amplitude_left(2000.0, 4000.0), WithinAbs(0.5, 1e-3));
    CHECK_THAT(amplitude_left(4000.0, 4000.0), WithinAbs(0.0, 1e-3));
    double worst = 0.0;
    for (double f_hz = 4000.0; f_hz < 12000.0; f_hz += 50.0)
        worst = std::max(worst, amplitude_left(f_hz, 4000.0));
    CHECK_THAT(20.0 * std::log10(worst), WithinAbs(-32.0, 1.0));
}

TEST_CASE("darkening shortens a record by its window, to nothing if there is no more of it") {
    CHECK(darkened(std::vector<double>(100, 1.0), rate, hertz{4000.0}).size() == 77);
    CHECK(darkened(std::vector<double>(23, 1.0), rate, hertz{4000.0}).empty());
    for (const double v : darkened(std::vector<double>(100, 1.0), rate, hertz{4000.0}))
        CHECK_THAT(v, WithinAbs(1.0, 1e-12));
}
