#include "demo/faults.hpp"

#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

namespace ferrule {
namespace {

// clang-format off
constexpr std::array<fault_description, fault_count> faults{{
    {fault::pitch_slope, "pitch-slope", "percent", 0.8, "tracking",
     "every octave is this much too wide"},
    {fault::pitch_offset, "pitch-offset", "cents", 10, "tracking",
     "every note is this much sharp"},
    {fault::pitch_knee, "pitch-knee", "cents", 15, "tracking",
     "bends from 2 V on; this much sharp at 4 V"},
    {fault::pitch_octave, "pitch-octave", "octaves", 1, "tracking",
     "jumps up by this from 3 V on"},
    {fault::pitch_clip_top, "pitch-clip-top", "volts", 1.5, "tracking",
     "stops rising this far below 5 V"},
    {fault::pitch_clip_bottom, "pitch-clip-bottom", "volts", 0.5, "tracking",
     "stops falling this far above 0 V"},
    {fault::pitch_drift, "pitch-drift", "cents/second", 3, "tracking",
     "rises steadily from switching on"},
    {fault::pitch_hysteresis, "pitch-hysteresis", "cents", 6, "tracking",
     "going down lags going up by this"},
    {fault::pitch_quantised, "pitch-quantised", "cents", 25, "tracking",
     "moves only in steps of this size"},
    {fault::pitch_early_read, "pitch-early-read", "cents", 60, "tracking,slide",
     "off by this for the first 8 ms of a note or step: read before it settled"},
    {fault::pitch_stale, "pitch-stale", "percent", 20, "tracking,pattern",
     "this share of the notes keeps the pitch of the note before"},
    {fault::pitch_late, "pitch-late", "ms", 3, "latency",
     "a new pitch arrives this much late"},
    {fault::rate_ratio, "rate-ratio", "percent", 1, "tracking,slide",
     "pitch and every time wrong by one ratio: wrong sample rate"},
    {fault::calibration_lost, "calibration-lost", "1=present", 1, "tracking",
     "stored constants not read at power-on: nominal ones instead"},
    {fault::calibration_layout, "calibration-layout", "1=present", 1, "tracking",
     "layout of the stored constants changed: nominal slope, stored offset"},
    {fault::slide_strikes, "slide-strikes", "1=present", 1, "retrigger",
     "tied, wide: a slide strikes both envelopes"},
    {fault::slide_fails_to_strike, "slide-fails-to-strike", "1=present", 1, "retrigger",
     "struck: a slide leaves the envelopes alone"},
    {fault::slide_time, "slide-time", "percent", 30, "slide",
     "slides take this much longer"},
    {fault::slide_interval_dependence, "slide-interval-dependence", "percent/octave", 40, "slide",
     "time grows with the interval, right for one octave"},
    {fault::slide_slow_8x, "slide-slow-8x", "1=present", 1, "slide",
     "eight times too slow: block size counted twice"},
    {fault::slide_second_jumps, "slide-second-jumps", "1=present", 1, "slide",
     "only the first slide of a run slides"},
    {fault::slide_interrupted_start, "slide-interrupted-start", "cents", 50, "slide",
     "a slide that interrupts a slide starts this much sharp"},
    {fault::slide_dead_waveform, "slide-dead-waveform", "1=present", 1, "slide",
     "the square never slides"},
    {fault::slide_arrival_short, "slide-arrival-short", "cents", 8, "slide",
     "stops this far short of the target"},
    {fault::slide_shape_hertz, "slide-shape-hertz", "1=present", 1, "slide",
     "exponential in hertz instead of volts"},
    {fault::slide_overshoot, "slide-overshoot", "cents", 30, "slide",
     "runs past the target by this and comes back"},
    {fault::step_smear, "step-smear", "ms", 6, "slide",
     "steps without slide have this time constant: jack smoothing"},
    {fault::legato_strikes, "legato-strikes", "1=present", 1, "retrigger",
     "tied, wide: a tied step without slide strikes both envelopes"},
    {fault::step_fails_to_strike, "step-fails-to-strike", "1=present", 1, "retrigger",
     "struck: a tied step without slide leaves the envelopes alone"},
    {fault::filter_only_strikes, "filter-only-strikes", "1=present", 1, "retrigger",
     "tied, wide: a slide strikes the filter envelope alone"},
    {fault::amplitude_only_strikes, "amplitude-only-strikes", "1=present", 1, "retrigger",
     "tied, wide: a slide strikes the amplitude envelope alone"},
    {fault::trigger_dead_in_mode, "trigger-dead-in-mode", "1=present", 1, "level",
     "wide: a gate strikes nothing"},
    {fault::envelope_click, "envelope-click", "percent", 100, "envelope,clicks",
     "a strike first drops the level by this: click in mid-decay"},
    {fault::envelope_attack, "envelope-attack", "ms", 10, "envelope",
     "attack takes this much longer"},
    {fault::envelope_release, "envelope-release", "percent", 100, "envelope",
     "release takes this much longer"},
    {fault::filter_decay, "filter-decay", "percent", 40, "envelope",
     "plain filter decay takes this much longer"},
    {fault::amplitude_decay, "amplitude-decay", "percent", -50, "envelope",
     "amplitude decay takes this much longer"},
    {fault::decay_follows_gate_length, "decay-follows-gate-length", "percent/doubling", 50, "envelope",
     "release after a gate, and the next filter decay, grow with its length, right for 0.25 s"},
    {fault::tail_chopped, "tail-chopped", "percent", 60, "envelope",
     "a released note stops dead below this share of full level"},
    {fault::gate_stuck, "gate-stuck", "ms", 60000, "retrigger,level",
     "the gate falls this much late"},
    {fault::gate_inverted, "gate-inverted", "1=present", 1, "level",
     "high means low"},
    {fault::gate_threshold, "gate-threshold", "volts", 4, "level,gate",
     "the trip point lies this much higher"},
    {fault::gate_poll, "gate-poll", "ms", 8, "gate",
     "the gate is looked at only this often: short triggers missed"},
    {fault::gate_edge_noise, "gate-edge-noise", "volts", 4, "level,gate",
     "noise on the gate input: slow edges strike twice"},
    {fault::gate_hysteresis_less, "gate-hysteresis-less", "percent", 100, "gate",
     "this share of the gate's hysteresis is missing: slow edges strike twice"},
    {fault::gate_debounced, "gate-debounced", "ms", 5, "gate",
     "a gate must be high, or low, for this long before it counts: fast gates are missed"},
    {fault::strike_jitter, "strike-jitter", "blocks", 8, "latency",
     "strikes come up to this late, at random"},
    {fault::latency, "latency", "blocks", 4, "latency",
     "everything comes this much later"},
    {fault::accent_late, "accent-late", "1=present", 1, "accent",
     "each note has the accent of the note before"},
    {fault::accent_early, "accent-early", "ms", 5, "accent",
     "accent read this long before the strike"},
    {fault::accent_strikes, "accent-strikes", "1=present", 1, "retrigger",
     "accent rising during a held note strikes both envelopes"},
    {fault::accent_live, "accent-live", "1=present", 1, "retrigger",
     "accent changing during a held note changes its level"},
    {fault::accent_never_falls, "accent-never-falls", "percent", 100, "accent",
     "build-up drains this much slower; 100 is never"},
    {fault::accent_build_up_absent, "accent-build-up-absent", "percent", 100, "accent",
     "this share of the build-up is missing"},
    {fault::accent_level, "accent-level", "dB", 2, "accent",
     "accented notes are this much louder than they should be"},
    {fault::accent_opens_less, "accent-opens-less", "octaves", 0.6, "accent",
     "an accent opens the filter this much less"},
    {fault::accent_decay, "accent-decay", "percent", 100, "accent",
     "filter decay of accented notes takes this much longer"},
    {fault::unplugged_floats, "unplugged-floats", "volts", 2, "unplugged",
     "the cutoff jack without a cable reads as this instead of 0 V"},
    {fault::knob_jack_replace, "knob-jack-replace", "percent", 100, "knob and jack",
     "as soon as the cutoff jack is used, its knob counts this much less"},
    {fault::cutoff_dead_zone, "cutoff-dead-zone", "percent", 20, "range",
     "nothing moves in this lowest part of the cutoff's range"},
    {fault::cutoff_range, "cutoff-range", "percent", 30, "range",
     "the cutoff moves by this much less"},
    {fault::cutoff_not_monotonic, "cutoff-not-monotonic", "octaves", 2, "range",
     "the cutoff dips by this about 2.25 V"},
    {fault::output_dc, "output-dc", "volts", 0.1, "level",
     "DC at both outputs"},
    {fault::output_inverted, "output-inverted", "1=present", 1, "stereo",
     "the right output is upside down"},
    {fault::output_dead, "output-dead", "1=present", 1, "stereo",
     "the right output is silent"},
    {fault::output_delay, "output-delay", "samples", 1, "stereo",
     "the right output is late"},
    {fault::output_quieter, "output-quieter", "dB", 1, "stereo",
     "the right output is this much quieter"},
    {fault::level_jump, "level-jump", "dB", 6, "level",
     "both outputs are this much louder"},
    {fault::output_noise, "output-noise", "volts", 0.01, "noise",
     "hiss at both outputs, rms"},
    {fault::block_tone, "block-tone", "volts", 0.01, "noise",
     "a tone at the block rate at both outputs, peak"},
    {fault::mains_hum, "mains-hum", "volts", 0.01, "noise",
     "hum of the mains at both outputs, peak of its lowest line"},
    {fault::led_tone, "led-tone", "volts", 0.01, "noise",
     "a dimmed LED's switching at both outputs, peak of its lowest line"},
    {fault::cv_bleed, "cv-bleed", "percent", 1, "noise",
     "this share of the pitch CV is in the sound"},
    {fault::boot_pop, "boot-pop", "volts", 5, "clicks",
     "a pop at switching on"},
    {fault::dropouts, "dropouts", "per second", 4, "clicks",
     "single blocks go missing: processor overloaded"},
    {fault::aliasing, "aliasing", "1=present", 1, "waveform",
     "the steps of the waveforms are not smoothed"},
    {fault::square_width, "square-width", "percent", 5, "waveform",
     "the square is high for this much more of its period"},
    {fault::blend_shift, "blend-shift", "percent", 20, "waveform",
     "the blend has this much more square and less saw"},
    {fault::waveform_swapped, "waveform-swapped", "percent", 100, "waveform",
     "the switch gives this much of the square for the saw, and of the saw for the square"},
    {fault::waveform_unread, "waveform-unread", "1=present", 1, "waveform",
     "the waveform switch is not read at power-on: a saw until it moves"},
    {fault::filter_dies, "filter-dies", "1=present", 1, "extremes",
     "once resonance is above two thirds and the filter above 8 kHz, silence for good"},
    {fault::reset_mid_pattern, "reset-mid-pattern", "seconds", 2, "pattern",
     "this long after switching on the firmware starts again: 0.3 s of silence"},
    {fault::note_lost, "note-lost", "percent", 20, "pattern",
     "this share of the gates is missed"},
    {fault::slide_flag_late, "slide-flag-late", "ms", 5, "pattern",
     "the slide jack is read this much late"},
    {fault::crackle, "crackle", "volts", 0.5, "clicks",
     "eight times a second a single sample is wrong by this: processor overloaded"},
    {fault::slide_click, "slide-click", "volts", 0.5, "clicks",
     "a slide begins with a jump of the sound by this"},
    {fault::repeat_block, "repeat-block", "per second", 4, "clicks",
     "single blocks are played twice, and all that follows comes later"},
    {fault::missing_block, "missing-block", "per second", 4, "clicks",
     "single blocks are never played, and all that follows comes earlier"},
    {fault::zipper, "zipper", "ms", 20, "clicks",
     "between steps, pitch and cutoff are looked at only this often"},
    {fault::cutoff_steps, "cutoff-steps", "volts", 0.1, "clicks",
     "the cutoff moves only in steps of this size"},
}};
// clang-format on

constexpr bool in_order() {
    for (std::size_t i = 0; i < fault_count; ++i) {
        if (static_cast<std::size_t>(faults[i].which) != i) return false;
    }
    return true;
}
static_assert(in_order(), "the table follows the enumeration");

}  // namespace

std::span<const fault_description> all_faults() noexcept {
    return faults;
}

void add_fault(fault_set& into, std::string_view text) {
    const auto at = text.find(':');
    const auto name = text.substr(0, at);
    for (const auto& known : faults) {
        if (known.name != name) continue;
        if (at == std::string_view::npos) {
            throw user_mistake("The fault " + std::string{name} + " needs a magnitude, such as " +
                               std::string{name} + ":1.");
        }
        into.set(known.which, number_of(name, text.substr(at + 1)));
        return;
    }
    throw user_mistake("There is no fault \"" + std::string{name} +
                       "\"; \"ferrule faults\" lists them.");
}

}  // namespace ferrule
