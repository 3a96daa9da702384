#pragma once

#include "demo/noise.hpp"

namespace ferrule {

/// What one specimen's converter does to the volts at its jack.
struct converter_traits {
    double gain = 1.0;
    double offset_volts = 0.0;
    double curvature_per_volt = 0.0;  ///< bow: error in volts = this times v squared
    double noise_volts = 0.00008;     ///< standard deviation of one conversion
};

/// A 16-bit analogue-to-digital converter, -0.2 V to 5.3 V, which clips outside.
class converter {
public:
    static constexpr double lowest_volts = -0.2;
    static constexpr double highest_volts = 5.3;
    static constexpr double top_code = 65535.0;
    static constexpr double volts_per_code = (highest_volts - lowest_volts) / top_code;

    explicit converter(const converter_traits& traits) noexcept : traits_{traits} {}

    /// One conversion, as a whole-numbered code from 0 to 65535.
    [[nodiscard]] double read(double volts, noise_source& noise) const noexcept;

private:
    converter_traits traits_;
};

}  // namespace ferrule
