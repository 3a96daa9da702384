#pragma once

#include "demo/accent.hpp"
#include "demo/block.hpp"
#include "demo/envelope.hpp"
#include "demo/ladder.hpp"
#include "demo/oscillator.hpp"
#include "demo/readings.hpp"
#include "demo/settings.hpp"
#include "demo/slide.hpp"
#include "demo/step_watch.hpp"

#include <span>

namespace ferrule {

/// The whole bass voice, one block at a time: what the firmware of the module runs.
class voice {
public:
    voice(const settings& set, double rate_hertz) noexcept;

    /// Fills one block of sound; a saw through the open filter spans -1 to 1.
    void process(const readings& now, std::span<double, block_frames> sound) noexcept;

private:
    /// What stays the same over one block.
    struct block_controls {
        double cycles;
        double pole_gain;
        double amplitude_fall;
        double filter_fall;
    };

    void follow_gate(const readings& now, bool stepped) noexcept;
    void strike(bool accented) noexcept;
    [[nodiscard]] double cutoff_hertz(const readings& now) const noexcept;
    [[nodiscard]] block_controls controls_for(const readings& now, double volts) noexcept;
    void render(const block_controls& to, std::span<double, block_frames> sound) noexcept;

    settings settings_;
    control_ranges ranges_;
    double rate_hertz_;
    double block_seconds_;
    double slide_kept_;
    double feedback_;
    bool gate_ = false;
    accent_amount accented_;
    accent_memory memory_;
    envelope amplitude_;
    envelope filter_;
    slide slide_;
    step_watch watch_;
    oscillator oscillator_;
    ladder ladder_;
    double cycles_ = 0.0;
    double pole_gain_ = 0.0;
    double before_volts_ = 0.0;
};

}  // namespace ferrule
