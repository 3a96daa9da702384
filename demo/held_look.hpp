#pragma once

#include "demo/faults.hpp"

#include <cmath>

namespace ferrule {

/// How often and how finely a firmware looks at a jack that moves slowly: at every block, unless a
/// fault makes it look less often (zipper) or in coarse steps.
class held_look {
public:
    held_look(const fault_set& faults, double block_seconds) noexcept
        : every_seconds_{faults[fault::zipper] / 1000.0}, block_seconds_{block_seconds} {}

    /// What is seen of `volts` in this block. What moves by more than `jump_volts` within one is
    /// seen at once: a step, not a slow change.
    double see(double volts, double jump_volts) noexcept {
        if (every_seconds_ <= 0.0) return volts;
        since_look_seconds_ += block_seconds_;
        const bool jumps = std::abs(volts - before_) > jump_volts;
        before_ = volts;
        // A hair under a whole number of blocks must not wait for one more.
        if (!jumps && since_look_seconds_ < every_seconds_ - 0.01 * block_seconds_) return seen_;
        since_look_seconds_ = 0.0;
        seen_ = volts;
        return seen_;
    }

private:
    double every_seconds_;
    double block_seconds_;
    double since_look_seconds_ = 1.0;
    double before_ = 0.0;
    double seen_ = 0.0;
};

/// The next lower whole number of steps; the volts themselves where there are no steps.
[[nodiscard]] inline double in_steps(double volts, double step_volts) noexcept {
    return step_volts > 0.0 ? std::floor(volts / step_volts) * step_volts : volts;
}

}  // namespace ferrule
