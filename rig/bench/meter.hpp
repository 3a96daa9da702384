#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "analysis/units.hpp"

namespace cvrig {

/// What a meter's data sheet says of its accuracy: so much of the reading plus so many steps of its
/// last digit.
struct meter_accuracy {
    double percent_of_reading{0.5};
    double digits{2.0};
    volts resolution{0.001};
    std::string text{"0.5 % + 2 digits of 1 mV"};  ///< as it was given

    /// Greatest error that the data sheet allows.
    [[nodiscard]] volts greatest_error(volts reading) const noexcept;
    /// The three parts as standard uncertainties, each from a rectangular distribution: half-width
    /// over the square root of 3 (JCGM 100:2008, 4.3.7). The first two are errors of this one
    /// meter, the same in every reading; only the last differs from reading to reading.
    [[nodiscard]] double u_scale_part() const noexcept;
    [[nodiscard]] volts u_offset() const noexcept;
    [[nodiscard]] volts u_rounding() const noexcept;
};

/// Reads "0.5 % + 2 digits of 1 mV" (also "0.5% + 2 counts of 0.001 V").
///
/// Refuses: throws user_error with an example for anything else.
[[nodiscard]] meter_accuracy parse_meter(std::string_view text);

/// Reads what a person copied off a meter: "3.012", "3,012 V", "-12 mV"; volts without a unit.
/// Empty if it is anything else, or beyond 100 V.
[[nodiscard]] std::optional<volts> parse_meter_reading(std::string_view text);

}  // namespace cvrig
