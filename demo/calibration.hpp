#pragma once

#include "demo/specimen.hpp"

#include <array>
#include <cstddef>
#include <span>

namespace ferrule {

/// The stored pitch constants: volts at the jack = offset + slope * converter code, and to that the
/// table's correction.
struct calibration {
    static constexpr std::size_t table_points = 5;

    double offset_volts = converter::lowest_volts;
    double slope_volts_per_code = converter::volts_per_code;
    /// What is added at 0, 1, 2, 3 and 4 V; in straight lines between them and beyond.
    std::array<double, table_points> table_volts{};

    [[nodiscard]] double volts(double code) const noexcept;

    friend bool operator==(const calibration&, const calibration&) = default;
};

/// A known voltage and what the converter made of it.
struct calibration_point {
    double volts;
    double code;
};

/// The straight line of least squares through two or more points of different code.
[[nodiscard]] calibration fit_calibration(std::span<const calibration_point> points) noexcept;

/// What a user does: 1 V, 2 V and 3 V from a known source, a button press at each.
[[nodiscard]] calibration calibrate(const specimen& unit, std::uint64_t seed) noexcept;

/// The constants a new module has: the author's own unit, number 1, calibrated once.
[[nodiscard]] calibration factory_calibration() noexcept;

}  // namespace ferrule
