#pragma once

#include "demo/block.hpp"
#include "demo/converter.hpp"

#include <array>
#include <cstdint>

namespace ferrule {

/// One physical Ferrule: everything in which units differ from one another.
struct specimen {
    std::uint32_t unit = 1;
    converter_traits pitch;
    converter_traits cutoff;
    converter_traits decay;
    double gate_trip_volts = 1.5;
    double clock_ratio = 1.0;  ///< crystal: true rate over nominal rate
    std::array<double, output_count> output_gain{1.0, 1.0};
    std::array<double, output_count> output_dc_volts{0.0, 0.0};
};

/// The unit with this number: the same number always gives the same unit.
[[nodiscard]] specimen make_specimen(std::uint32_t unit) noexcept;

}  // namespace ferrule
