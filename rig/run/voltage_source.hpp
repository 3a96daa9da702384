#pragma once

#include <map>
#include <optional>
#include <string>

#include "analysis/units.hpp"
#include "rig/expectations/place.hpp"

namespace cvrig {

/// What the bench itself sees of a voltage that it holds.
struct sensed_voltage {
    volts mean{0.0};
    volts u{0.0};      ///< standard uncertainty of the mean: the input's gain and noise
    volts moved{0.0};  ///< from the first to the second half of the record
};

/// Known voltages at the module's jacks, for as long as nobody plays anything.
class voltage_source {
public:
    voltage_source() = default;
    voltage_source(const voltage_source&) = delete;
    voltage_source& operator=(const voltage_source&) = delete;
    virtual ~voltage_source() = default;

    /// Holds these voltages; every other jack rests. One sentence if it cannot be done, else empty.
    /// Throws user_error for a voltage outside its output's limits.
    virtual std::string hold(const std::map<std::string, volts>& at) = 0;

    /// Whether an input of the bench is wired to that jack.
    [[nodiscard]] virtual bool has_sense(const std::string& jack) const = 0;
    /// What that input sees at the jack now; empty if there is none, or its record has a gap.
    [[nodiscard]] virtual std::optional<sensed_voltage> sense(const std::string& jack) = 0;

    /// Whether a voltage needs time to settle.
    [[nodiscard]] virtual bool is_real() const = 0;
};

}  // namespace cvrig
