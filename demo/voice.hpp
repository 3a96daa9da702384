#pragma once

#include "demo/block.hpp"
#include "demo/contour.hpp"
#include "demo/cutoff_control.hpp"
#include "demo/faults.hpp"
#include "demo/held_look.hpp"
#include "demo/ladder.hpp"
#include "demo/modes.hpp"
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

    /// From the next block on. What would click glides there within change_samples; a change to
    /// what is set already changes no bit.
    void set(const settings& to) noexcept;
    void set(const calibration& stored) noexcept { pitch_.set(stored); }

    /// Fills one block of sound; a saw through the open filter spans -1 to 1.
    void process(const readings& now, std::span<double, block_frames> sound) noexcept;

private:
    static constexpr int change_samples = 480;

    /// What switches and knobs decide about the sound itself.
    struct controls {
        control_ranges ranges;
        double feedback;
        wave_mix mix;
    };

    /// Where the values that change within a block arrive at its end.
    struct targets {
        double cycles;
        double pole_gain;
        contour::falls falls;
    };

    [[nodiscard]] static controls controls_of(const settings& set, const fault_set& faults);
    [[nodiscard]] static controls between(const controls& from, const controls& to, double share);
    void glide() noexcept;
    [[nodiscard]] double follow_pitch(const readings& now, events& seen) noexcept;
    [[nodiscard]] double cutoff_hertz(double cutoff_volts) const noexcept;
    void click(std::span<double, block_frames> sound) noexcept;
    void render(const targets& to, std::span<double, block_frames> sound) noexcept;

    fault_set faults_;
    cutoff_control cutoff_control_;
    controls controls_;
    controls glide_from_;
    controls glide_to_;
    int glide_left_ = 0;
    double rate_hertz_;
    double block_seconds_;
    pitch_reader pitch_;
    step_watch watch_;
    slide slide_;
    contour contour_;
    held_look pitch_look_;
    held_look cutoff_look_;
    oscillator oscillator_;
    ladder ladder_;
    bool gate_ = false;
    bool stepping_ = false;
    bool silent_ = false;
    double before_volts_ = 0.0;
    double cycles_ = 0.0;
    double pole_gain_ = 0.0;
    double click_ = 0.0;
};

}  // namespace ferrule
