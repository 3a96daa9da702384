#include "analysis/units.hpp"

#include <cmath>

namespace cvrig {

namespace {
// 0 dBu is 1 mW in 600 ohm: sqrt(0.001 W * 600 ohm).
const double dbu_reference_volts = std::sqrt(0.6);
}  // namespace

cents interval(hertz f, hertz reference) noexcept {
    return cents{1200.0 * std::log2(f / reference)};
}

hertz raised(hertz reference, cents by) noexcept {
    return reference * std::exp2(by.value() / 1200.0);
}

decibels to_decibels(double voltage_ratio) noexcept {
    return decibels{20.0 * std::log10(voltage_ratio)};
}

double to_voltage_ratio(decibels level) noexcept {
    return std::pow(10.0, level.value() / 20.0);
}

dbu to_dbu(volts rms) noexcept {
    return dbu{20.0 * std::log10(rms.value() / dbu_reference_volts)};
}

}  // namespace cvrig
