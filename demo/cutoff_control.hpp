#pragma once

#include "demo/faults.hpp"

namespace ferrule {

/// From the CUTOFF knob and its jack to octaves above the lowest cutoff.
class cutoff_control {
public:
    explicit cutoff_control(const fault_set& faults) noexcept : faults_{faults} {}

    /// The volts at the jack's contact; without a cable its switch holds it at 0 V.
    [[nodiscard]] double at_contact(bool cable_in, double jack_volts) const noexcept;

    /// What the converter is given: the knob's 0 to 5 V and the jack together.
    [[nodiscard]] double sum(double knob, double contact_volts) const noexcept;

    /// `volts` as the converter read them.
    [[nodiscard]] double octaves(double volts, double octaves_per_volt) const noexcept;

private:
    fault_set faults_;
};

}  // namespace ferrule
