#pragma once

#include "demo/calibration.hpp"
#include "demo/faults.hpp"

#include <array>
#include <cstddef>

namespace ferrule {

/// Turns the converter's codes for the pitch jack into volts, once a block.
class pitch_reader {
public:
    pitch_reader(const calibration& stored, const fault_set& faults, double block_seconds) noexcept;

    /// New constants, from the next block on.
    void set(const calibration& stored) noexcept;

    /// Volts for the mean code of one block.
    double read(double code) noexcept;

    /// The same volts a moment later, when it is known whether a note or a step begins here.
    double settle(double volts, bool gate_rose, bool step_begins) noexcept;

private:
    [[nodiscard]] double bent(double volts) const noexcept;
    [[nodiscard]] double clipped(double volts) const noexcept;
    [[nodiscard]] double with_backlash(double volts) noexcept;
    [[nodiscard]] double late(double volts) noexcept;

    static constexpr std::size_t most_late_blocks = 64;

    calibration constants_;
    fault_set faults_;
    double block_seconds_;
    double on_seconds_ = 0.0;
    double since_begin_seconds_ = 1.0;
    double backlash_volts_ = 0.0;
    double held_volts_ = 0.0;
    double stale_share_ = 0.0;
    bool stale_ = false;
    std::array<double, most_late_blocks> past_volts_{};
    std::size_t at_ = 0;
};

}  // namespace ferrule
