#include "rig/bench/trim.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "rig/bench/meter.hpp"
#include "rig/expectations/user_error.hpp"

namespace {

using namespace cvrig;
using Catch::Matchers::WithinAbs;

}  // namespace

TEST_CASE("a trim is the straight line of GUM H.3 with its covariance", "[bench][trim]") {
    // JCGM 100:2008, H.3, Table H.6: thermometer readings less 20 degC, and observed corrections.
    constexpr std::array<std::array<double, 2>, 11> table{{{21.521, -0.171},
                                                           {22.012, -0.169},
                                                           {22.512, -0.166},
                                                           {23.003, -0.159},
                                                           {23.507, -0.164},
                                                           {23.999, -0.165},
                                                           {24.513, -0.156},
                                                           {25.002, -0.157},
                                                           {25.503, -0.159},
                                                           {26.010, -0.161},
                                                           {26.511, -0.160}}};
    std::vector<trim_point> points;
    for (const auto& [t, b] : table) points.push_back({t - 20.0, volts{b}});
    const meter_accuracy perfect{0.0, 0.0, volts{1e-9}, ""};
    const auto fit = fit_output_trim(points, perfect);
    REQUIRE(fit);
    // Printed in H.3.3; tolerance half the last printed digit.
    CHECK_THAT(fit->trim.volts_per_full_scale, WithinAbs(0.00218, 5e-6));
    CHECK_THAT(fit->trim.u_volts_per_full_scale, WithinAbs(0.00067, 5e-6));
    CHECK_THAT(fit->trim.offset.value(), WithinAbs(-0.1712, 5e-5));
    CHECK_THAT(fit->trim.u_offset.value(), WithinAbs(0.0029, 5e-5));
    const double correlation = fit->trim.covariance_volts_squared /
                               (fit->trim.u_volts_per_full_scale * fit->trim.u_offset.value());
    CHECK_THAT(correlation, WithinAbs(-0.930, 5e-4));
}

TEST_CASE("a meter's accuracy is read off its data sheet", "[bench][trim]") {
    const auto m = parse_meter("0.5 % + 2 digits of 1 mV");
    CHECK_THAT(m.greatest_error(volts{3.0}).value(), WithinAbs(0.017, 1e-12));
    // JCGM 100:2008, 4.3.7: half-width over the square root of 3 for a rectangular distribution.
    CHECK_THAT(m.u_scale_part(), WithinAbs(0.005 / 1.7320508, 1e-9));
    CHECK_THAT(m.u_offset().value(), WithinAbs(0.002 / 1.7320508, 1e-9));
    CHECK_THAT(parse_meter("0,05%+3 counts of 0,1 mV").resolution.value(), WithinAbs(1e-4, 1e-12));
    for (const char* wrong :
         {"", "good", "0.5 %", "2 digits of 1 mV", "0.5 V + 2 digits of 1 mV", "0.5 % + 2 digits",
          "0.5 % + x digits of 1 mV", "-1 % + 1 digit of 1 mV", "0.5 % + 2 digits of 1 Hz"}) {
        CAPTURE(wrong);
        CHECK_THROWS_AS(parse_meter(wrong), user_error);
    }
}

TEST_CASE("meter readings are read as people write them", "[bench][trim]") {
    CHECK_THAT(parse_meter_reading("3.012")->value(), WithinAbs(3.012, 1e-12));
    CHECK_THAT(parse_meter_reading(" 3,012 V ")->value(), WithinAbs(3.012, 1e-12));
    CHECK_THAT(parse_meter_reading("-12 mV")->value(), WithinAbs(-0.012, 1e-12));
    for (const char* wrong : {"", "three", "3.0.1", "3 A", "nan", "1e9", "3 Hz", "C2"}) {
        CAPTURE(wrong);
        CHECK_FALSE(parse_meter_reading(wrong));
    }
}

TEST_CASE("two points are no trim", "[bench][trim]") {
    const std::vector<trim_point> points{{0.0, volts{0.0}}, {0.1, volts{1.0}}};
    CHECK_FALSE(fit_output_trim(points, {}));
}

TEST_CASE("a reading off the line is told from what the meter explains", "[bench][trim]") {
    std::vector<trim_point> points{
        {0.0, volts{0.001}}, {0.1, volts{1.005}}, {0.3, volts{3.014}}, {0.5, volts{5.024}}};
    CHECK(fit_output_trim(points, {})->explained);
    points[2].known = volts{3.041};
    const auto slip = fit_output_trim(points, {});
    CHECK_FALSE(slip->explained);
    CHECK(slip->largest_departure > volts{0.01});
}

TEST_CASE("a trim's uncertainty covers a meter that keeps to its data sheet", "[bench][trim]") {
    const meter_accuracy meter{0.5, 2.0, volts{0.001}, ""};
    std::mt19937_64 generator{7};
    std::uniform_real_distribution<double> part{-1.0, 1.0};
    int full_scale = 0, offset = 0, at_three = 0;
    constexpr int trials = 400;
    for (int i = 0; i < trials; ++i) {
        const double scale_error = 0.005 * part(generator);
        const double zero_error = 0.002 * part(generator);
        std::vector<trim_point> points;
        for (const double v : {0.0, 1.0, 3.0, 5.0}) {
            const double truth = 0.01 + 1.02 * v;
            const double shown = std::round(1e3 * (truth * (1 + scale_error) + zero_error)) * 1e-3;
            points.push_back({v / 10.0, volts{shown}});
        }
        const auto t = fit_output_trim(points, meter)->trim;
        full_scale += std::abs(t.volts_per_full_scale - 10.2) <= 2 * t.u_volts_per_full_scale;
        offset += std::abs(t.offset.value() - 0.01) <= 2 * t.u_offset.value();
        const double u3 =
            std::sqrt(std::pow(0.3 * t.u_volts_per_full_scale, 2) +
                      std::pow(t.u_offset.value(), 2) + 0.6 * t.covariance_volts_squared);
        at_three += std::abs(t.at(0.3).value() - 3.07) <= 2 * u3;
    }
    // Two standard uncertainties hold 95 % of a normal and all of a rectangular distribution; 93 %
    // is 95 % less two standard deviations of 400 trials.
    CHECK(full_scale >= 0.93 * trials);
    CHECK(offset >= 0.93 * trials);
    CHECK(at_three >= 0.93 * trials);
}

TEST_CASE("1 kilohm into 100 kilohm costs 11.9 cents an octave", "[bench][trim]") {
    // Voltage divider: 1200 * 1 / 101.
    CHECK_THAT(loading_error(1e3, 100e3).value(), WithinAbs(11.88, 0.005));
}

TEST_CASE("an output is trimmed at three voltages or more within its limits", "[bench][trim]") {
    CHECK(trim_levels(volts{-0.1}, volts{5.5}).size() == 4);
    for (const auto& [low, high] : {std::pair{-5.0, 5.0}, {0.0, 0.5}, {-0.1, 2.0}, {2.0, 3.5}}) {
        const auto levels = trim_levels(volts{low}, volts{high});
        CHECK(levels.size() >= 3);
        for (const volts v : levels) CHECK((v >= volts{low} && v <= volts{high}));
    }
}
