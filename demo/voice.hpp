#pragma once

#include "demo/block.hpp"
#include "demo/contour.hpp"
#include "demo/faults.hpp"
#include "demo/ladder.hpp"
#include "demo/oscillator.hpp"
#include "demo/pitch_reader.hpp"
#include "demo/readings.hpp"
#include "demo/settings.hpp"
#include "demo/slide.hpp"
#include "demo/step_watch.hpp"

#include <span>

namespace ferrule {

/// What a voice is built with.
struct voice_plan {
    settings set;
    calibration stored;
    fault_set faults;
    double rate_hertz;
};

/// The whole bass voice, one block at a time: what the firmware of the module runs.
class voice {
public:
    explicit voice(const voice_plan& plan) noexcept;

    /// Fills one block of sound; a saw through the open filter spans -1 to 1.
    void process(const readings& now, std::span<double, block_frames> sound) noexcept;

private:
    /// Where the values that change within a block arrive at its end.
    struct targets {
        double cycles;
        double pole_gain;
        contour::falls falls;
    };

    [[nodiscard]] double follow_pitch(const readings& now, events& seen) noexcept;
    [[nodiscard]] double cutoff_hertz(double cutoff_volts) const noexcept;
    void render(const targets& to, std::span<double, block_frames> sound) noexcept;

    control_ranges ranges_;
    fault_set faults_;
    double rate_hertz_;
    double block_seconds_;
    double feedback_;
    wave_mix mix_;
    pitch_reader pitch_;
    step_watch watch_;
    slide slide_;
    contour contour_;
    oscillator oscillator_;
    ladder ladder_;
    bool gate_ = false;
    bool stepping_ = false;
    bool silent_ = false;
    double before_volts_ = 0.0;
    double cycles_ = 0.0;
    double pole_gain_ = 0.0;
};

}  // namespace ferrule
