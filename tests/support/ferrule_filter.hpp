#pragma once

#include <cmath>
#include <complex>
#include <cstdint>
#include <numbers>

#include "demo/modes.hpp"
#include "demo/specimen.hpp"

namespace cvrig::testing {

/// The half-power frequency of four equal poles at 1 in a ring with this feedback: the highest x
/// with |(1 + ix)^4 + k| = sqrt 2 (1 + k), by bisection.
inline double ladder_half_power(double feedback) {
    const auto size = [&](double x) {
        return std::abs(std::pow(std::complex<double>{1.0, x}, 4) + feedback);
    };
    double below = 0.0;
    for (double x = 3.0; x > 0.0 && below == 0.0; x -= 1e-3)
        if (size(x) < std::numbers::sqrt2 * (1.0 + feedback)) below = x;
    double above = below + 1e-3;
    for (int i = 0; i < 50; ++i) {
        const double middle = 0.5 * (below + above);
        (size(middle) > std::numbers::sqrt2 * (1.0 + feedback) ? above : below) = middle;
    }
    return below;
}

/// The half-power frequency of a good demo module's filter, its envelope over, with so many volts of
/// knob and jack together: the unit's converter, its crystal and the bilinear transform included.
inline double true_cutoff(ferrule::mode mode, std::uint32_t unit, double resonance_knob,
                          double control_volts, double rate_hertz) {
    const auto made = ferrule::make_specimen(unit);
    const auto ranges = ferrule::ranges_of(mode);
    const double believed = rate_hertz / made.clock_ratio;
    const double read = made.cutoff.gain * control_volts + made.cutoff.offset_volts;
    const double pole =
        ranges.cutoff_lowest_hertz * std::exp2(ranges.cutoff_octaves_per_volt * read);
    const double pi = std::numbers::pi;
    const double ratio = ladder_half_power(ranges.most_resonance * resonance_knob);
    return rate_hertz / pi * std::atan(ratio * std::tan(pi * pole / believed));
}

}  // namespace cvrig::testing
