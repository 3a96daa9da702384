#include "analysis/units.hpp"

#include <catch2/catch.hpp>
#include <type_traits>

using namespace cvrig;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

// Unit slips must not compile; each line has a compiling twin below.
template <class A, class B>
concept addable = requires(A a, B b) {
    a + b;
};
static_assert(!addable<hertz, cents> && !addable<volts, double> && addable<hertz, hertz>);
static_assert(!std::is_convertible_v<double, decibels> &&
              std::is_constructible_v<decibels, double>);
static_assert(!std::is_convertible_v<decibels, dbu> && !std::is_constructible_v<dbu, decibels>);
static_assert(!std::is_constructible_v<seconds, hertz> &&
              std::is_constructible_v<seconds, seconds>);

TEST_CASE("a 440 Hz A and its neighbours stand an equal-tempered semitone apart",
          "[analysis][units]") {
    // ISO 16:1975 (A4 = 440 Hz); equal temperament f = 440 * 2^(n/12); table values to 1e-6 Hz.
    CHECK_THAT(raised(440_Hz, 100_cents).value(), WithinAbs(466.163762, 5e-7));
    CHECK_THAT(raised(440_Hz, cents{-1200.0 * 4 + 300}).value(), WithinAbs(32.703196, 5e-7));
    CHECK_THAT(interval(261.625565_Hz, 440_Hz).value(), WithinAbs(-900.0, 1e-5));
}

TEST_CASE("one per cent of frequency is 17.2264 cents and a fifth 701.955", "[analysis][units]") {
    // A. J. Ellis, 1885: c = 1200 lb(f / f_ref); tolerance is half the last printed digit.
    CHECK_THAT(interval(101_Hz, 100_Hz).value(), WithinAbs(17.2264, 5e-5));
    CHECK_THAT(interval(300_Hz, 200_Hz).value(), WithinAbs(701.955001, 5e-7));
    CHECK_THAT(to_cents(octaves{0.001}).value(), WithinAbs(1.2, 1e-12));  // 1 mV at 1 V/octave
}

TEST_CASE("a sine of 10 V peak to peak is 13.1876 dBu", "[analysis][units]") {
    // 0 dBu = sqrt(0.6) V rms by definition; IEC 60268 / common audio practice.
    CHECK_THAT(to_dbu(3.535533906_V).value(), WithinAbs(13.1876, 5e-5));
    CHECK_THAT(to_dbu(1_V).value(), WithinAbs(2.2185, 5e-5));
    CHECK_THAT(to_decibels(2.0).value(), WithinAbs(6.0206, 5e-5));
    CHECK_THAT(to_voltage_ratio(20_dB), WithinAbs(10.0, 1e-12));
}
