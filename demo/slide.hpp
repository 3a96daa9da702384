#pragma once

#include "demo/faults.hpp"
#include "demo/settings.hpp"

namespace ferrule {

/// What may begin in a block.
struct beginnings {
    bool step = false;   ///< the pitch has moved since the block before
    bool first = false;  ///< the first block of such a step
    bool gate = false;   ///< the gate rose
};

/// The way of the pitch from one note to the next, in volts, once a block.
///
/// Without slide it jumps. With slide it moves like a capacitor charged through a resistor, so that
/// every interval takes the same time. A slide that has begun is finished even when the slide jack
/// falls, unless a new step or a new note comes first.
class slide {
public:
    /// The classic network: 100 kilohm and 220 nF.
    static constexpr double shortest_seconds = 100e3 * 220e-9;
    static constexpr double longest_seconds = 0.2;

    slide(const settings& set, const fault_set& faults, double block_seconds) noexcept;

    void set(const settings& to) noexcept;

    double next(double target_volts, bool jack_high, const beginnings& now) noexcept;

    [[nodiscard]] bool moving() const noexcept { return moving_; }

private:
    void begin_step(double target_volts, bool sliding) noexcept;
    [[nodiscard]] double kept(double interval_octaves) const noexcept;
    [[nodiscard]] double aim(double target_volts, double interval) noexcept;
    [[nodiscard]] double toward(double aim_volts, double kept_share) const noexcept;

    fault_set faults_;
    double block_seconds_;
    double time_constant_seconds_ = shortest_seconds;
    double kept_ = 0.0;
    bool dead_ = false;
    double volts_ = 0.0;
    double start_volts_ = 0.0;
    double before_target_volts_ = 0.0;
    int slides_in_run_ = 0;
    bool moving_ = false;
    bool passed_ = false;
    bool short_ = false;
};

}  // namespace ferrule
