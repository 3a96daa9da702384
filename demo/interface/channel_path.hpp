#pragma once

#include "demo/interface/interface_fault.hpp"
#include "demo/interface/tape.hpp"
#include "demo/noise.hpp"

#include <span>

namespace ferrule {

/// The way of one channel through the interface, in volts, with its faults.
class channel_path {
public:
    channel_path(double rate_hertz, std::uint64_t seed);

    /// From now on with these faults. What was in the path stays there.
    void set(const desk_faults::channel& faults) noexcept;

    /// One sample; `all` is what every channel of this side has just now, `own` which is this one.
    double next(std::span<const double, desk_channels> all, std::size_t own) noexcept;

private:
    [[nodiscard]] double of(desk_fault which) const noexcept {
        return faults_[static_cast<std::size_t>(which)];
    }
    [[nodiscard]] double mixed(std::span<const double, desk_channels> all,
                               std::size_t own) const noexcept;
    [[nodiscard]] double coupled(double volts) noexcept;
    [[nodiscard]] double disturbance() noexcept;

    desk_faults::channel faults_{};
    double rate_hertz_;
    tape tape_;
    noise_source noise_;
    double charge_volts_ = 0.0;  ///< of the coupling capacitor
    double seconds_ = 0.0;
};

}  // namespace ferrule
