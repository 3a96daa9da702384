#include "demo/interface/channel_path.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ferrule {
namespace {

constexpr double foreign_tone_hertz = 440.0;
constexpr double mains_hertz = 50.0;

double sine(double hertz, double seconds) {
    return std::sin(2.0 * std::numbers::pi * hertz * seconds);
}

}  // namespace

channel_path::channel_path(double rate_hertz, std::uint64_t seed)
    : rate_hertz_{rate_hertz}, tape_{rate_hertz}, noise_{seed} {}

void channel_path::set(const desk_faults::channel& faults) noexcept {
    faults_ = faults;
    tape_.set({of(desk_fault::resample), of(desk_fault::delay), of(desk_fault::drop),
               of(desk_fault::drop_once), of(desk_fault::repeat), of(desk_fault::repeat_once)});
}

double channel_path::mixed(std::span<const double, desk_channels> all,
                           std::size_t own) const noexcept {
    double volts = all[own] * (1.0 + of(desk_fault::gain) / 100.0);
    if (of(desk_fault::inverted) != 0.0) volts = -volts;
    if (of(desk_fault::cold_leg_shorted) != 0.0) volts *= 0.5;
    const double share = of(desk_fault::mixer) / 100.0;
    if (share != 0.0) {
        for (const double other : all) volts += share * other;
        volts += share * (sine(foreign_tone_hertz, seconds_) - all[own]);
    }
    const double leak = of(desk_fault::crosstalk) / 100.0;
    if (leak != 0.0) volts += leak * all[(own + desk_channels - 1) % desk_channels];
    return volts;
}

double channel_path::coupled(double volts) noexcept {
    const double time_constant = std::abs(of(desk_fault::ac_coupled));
    if (time_constant == 0.0) {
        charge_volts_ = 0.0;
        return volts;
    }
    const double passed = volts - charge_volts_;
    charge_volts_ += passed * (1.0 - std::exp(-1.0 / (time_constant * rate_hertz_)));
    return passed;
}

double channel_path::disturbance() noexcept {
    double volts = of(desk_fault::offset);
    const double hum = of(desk_fault::hum);
    if (hum != 0.0) {
        volts += hum * (sine(mains_hertz, seconds_) + 0.5 * sine(2.0 * mains_hertz, seconds_) +
                        0.25 * sine(3.0 * mains_hertz, seconds_));
    }
    const double hiss = of(desk_fault::noise);
    if (hiss != 0.0) volts += hiss * noise_.normal();
    return volts;
}

double channel_path::next(std::span<const double, desk_channels> all, std::size_t own) noexcept {
    const double volts = coupled(tape_.next(mixed(all, own))) + disturbance();
    seconds_ += 1.0 / rate_hertz_;
    const double most = std::abs(of(desk_fault::clip));
    return most == 0.0 ? volts : std::clamp(volts, -most, most);
}

}  // namespace ferrule
