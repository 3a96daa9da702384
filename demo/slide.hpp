#pragma once

namespace ferrule {

/// The way of the pitch from one tied note to the next, in volts, once a block.
///
/// Without slide it jumps. With slide it moves like a capacitor charged through a resistor, so that
/// every interval takes the same time. A slide that has begun is finished even when the slide jack
/// falls, unless a new step or a new note comes first.
class slide {
public:
    /// The classic network: 100 kilohm and 220 nF.
    static constexpr double shortest_seconds = 100e3 * 220e-9;
    static constexpr double longest_seconds = 0.2;

    /// `kept`: what a block leaves of the remaining distance. `fresh`: a step or a note begins.
    double next(double target_volts, bool jack_high, bool fresh, double kept) noexcept;

    [[nodiscard]] bool moving() const noexcept { return moving_; }

private:
    double volts_ = 0.0;
    bool moving_ = false;
};

}  // namespace ferrule
