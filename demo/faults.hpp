#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <string_view>

namespace ferrule {

/// Everything that can be wrong with a build of the firmware, or with a unit's output stage.
enum class fault {
    pitch_slope,
    pitch_offset,
    pitch_knee,
    pitch_octave,
    pitch_clip_top,
    pitch_clip_bottom,
    pitch_drift,
    pitch_hysteresis,
    pitch_quantised,
    pitch_early_read,
    pitch_stale,
    pitch_late,
    rate_ratio,
    calibration_lost,
    calibration_layout,
    slide_strikes,
    slide_fails_to_strike,
    slide_time,
    slide_interval_dependence,
    slide_slow_8x,
    slide_second_jumps,
    slide_interrupted_start,
    slide_dead_waveform,
    slide_arrival_short,
    slide_shape_hertz,
    slide_overshoot,
    step_smear,
    legato_strikes,
    step_fails_to_strike,
    filter_only_strikes,
    amplitude_only_strikes,
    trigger_dead_in_mode,
    envelope_click,
    envelope_attack,
    envelope_release,
    filter_decay,
    amplitude_decay,
    decay_follows_gate_length,
    tail_chopped,
    gate_stuck,
    gate_inverted,
    gate_threshold,
    gate_poll,
    gate_edge_noise,
    gate_hysteresis_less,
    gate_debounced,
    strike_jitter,
    latency,
    accent_late,
    accent_early,
    accent_strikes,
    accent_live,
    accent_never_falls,
    accent_build_up_absent,
    accent_level,
    accent_opens_less,
    accent_decay,
    unplugged_floats,
    knob_jack_replace,
    cutoff_dead_zone,
    cutoff_range,
    cutoff_not_monotonic,
    output_dc,
    output_inverted,
    output_dead,
    output_delay,
    output_quieter,
    level_jump,
    output_noise,
    block_tone,
    mains_hum,
    led_tone,
    cv_bleed,
    boot_pop,
    dropouts,
    aliasing,
    square_width,
    blend_shift,
    waveform_swapped,
    waveform_unread,
    filter_dies,
    reset_mid_pattern,
    note_lost,
    gate_bounces,
    slide_flag_late,
    crackle,
    slide_click,
    repeat_block,
    missing_block,
    zipper,
    cutoff_steps,
    count
};

inline constexpr std::size_t fault_count = static_cast<std::size_t>(fault::count);

/// What a user may know about a fault. `checks` names the checks that must see it, or is empty
/// where none is meant to yet.
struct fault_description {
    fault which;
    std::string_view name;
    std::string_view unit;
    double typical;  ///< a magnitude at which nobody would miss it
    std::string_view checks;
    std::string_view meaning;
};

/// All faults, in the order of the enumeration.
[[nodiscard]] std::span<const fault_description> all_faults() noexcept;

/// Magnitudes of all faults; a magnitude of 0 is the good build, bit for bit.
class fault_set {
public:
    [[nodiscard]] double operator[](fault which) const noexcept {
        return magnitudes_[static_cast<std::size_t>(which)];
    }
    [[nodiscard]] bool has(fault which) const noexcept { return (*this)[which] != 0.0; }
    void set(fault which, double magnitude) noexcept {
        magnitudes_[static_cast<std::size_t>(which)] = magnitude;
    }

private:
    std::array<double, fault_count> magnitudes_{};
};

/// Adds "name:magnitude"; throws user_mistake at an unknown name or a bad magnitude.
void add_fault(fault_set& into, std::string_view text);

}  // namespace ferrule
