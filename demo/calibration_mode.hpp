#pragma once

#include "demo/calibration.hpp"
#include "demo/calibration_habits.hpp"

#include <array>
#include <cstddef>
#include <optional>
#include <string>

namespace ferrule {

/// The procedure by which a user calibrates a Ferrule: it begins, takes the points 1 V, 2 V and 3 V
/// in this order, and ends with new constants or none. Throws command_error where it is not obeyed.
class calibration_mode {
public:
    static constexpr std::size_t points = 3;

    void begin() noexcept;
    /// Ends it without a result.
    void abandon() noexcept;
    [[nodiscard]] bool is_on() const noexcept { return on_; }

    /// A press of the button with `point` volts at the pitch jack; the first one also begins. An
    /// earlier point may be taken again.
    void take_point(std::size_t point, double code, const calibration_habits& habits);

    /// The code that a point was taken for.
    [[nodiscard]] double code_of(std::size_t point) const;

    /// "OFF", or how many points have been taken.
    [[nodiscard]] std::string state() const;

    /// The constants of the points, which end the procedure; those must lie on something like a
    /// line.
    [[nodiscard]] calibration finish(const calibration_habits& habits);

private:
    [[nodiscard]] std::size_t taken() const noexcept;

    bool on_ = false;
    std::array<std::optional<double>, points> codes_;
};

}  // namespace ferrule
