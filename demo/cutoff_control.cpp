#include "demo/cutoff_control.hpp"

#include <algorithm>
#include <cmath>

namespace ferrule {
namespace {

constexpr double range_volts = 5.0;
constexpr double knob_volts = 5.0;
constexpr double jack_in_use_volts = 0.05;
constexpr double dip_volts = 2.25;
constexpr double dip_half_width_volts = 0.5;

}  // namespace

double cutoff_control::at_contact(bool cable_in, double jack_volts) const noexcept {
    return cable_in ? jack_volts : faults_[fault::unplugged_floats];
}

double cutoff_control::sum(double knob, double contact_volts) const noexcept {
    const double replaced =
        contact_volts > jack_in_use_volts ? faults_[fault::knob_jack_replace] / 100.0 : 0.0;
    return std::clamp(knob_volts * knob * (1.0 - replaced) + contact_volts, 0.0, range_volts);
}

double cutoff_control::octaves(double volts, double octaves_per_volt) const noexcept {
    if (faults_.has(fault::cutoff_dead_zone)) {
        const double dead =
            range_volts * std::clamp(faults_[fault::cutoff_dead_zone] / 100.0, 0.0, 0.99);
        volts = std::max(0.0, volts - dead) * range_volts / (range_volts - dead);
    }
    const double right = volts * octaves_per_volt * (1.0 - faults_[fault::cutoff_range] / 100.0);
    const double into_dip = 1.0 - std::abs(volts - dip_volts) / dip_half_width_volts;
    return right - faults_[fault::cutoff_not_monotonic] * std::max(0.0, into_dip);
}

}  // namespace ferrule
