#pragma once

#include <cmath>

namespace ferrule {

/// Finds pitch steps in the readings of the pitch jack, one reading a block.
///
/// A step is a change of more than 40 cents against the last settled reading; it counts once, as
/// soon as two readings in a row agree within 10 cents. Slow changes move the settled reading along
/// and never count. A new note excuses the watch for a few milliseconds, since the pitch that
/// arrives with a gate belongs to that gate.
class step_watch {
public:
    static constexpr double step_volts = 40.0 / 1200.0;
    static constexpr double settled_volts = 10.0 / 1200.0;

    void new_note(int blocks) noexcept { excused_ = blocks; }

    /// True in the block in which a step is recognised.
    bool stepped(double volts) noexcept {
        const bool settled = std::abs(volts - before_) < settled_volts;
        const bool away = std::abs(volts - settled_) > step_volts;
        before_ = volts;
        if (excused_ > 0) {
            --excused_;
            settled_ = volts;
            return false;
        }
        if (away && !settled) return false;
        settled_ = volts;
        return away;
    }

private:
    double before_ = 0.0;
    double settled_ = 0.0;
    int excused_ = 0;
};

}  // namespace ferrule
