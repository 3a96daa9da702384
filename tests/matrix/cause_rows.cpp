#include "tests/matrix/cause_rows.hpp"

#include <array>

namespace cvrig::testing {

namespace {

// Sizes are at least one and a half times the tolerance, as in fault_rows.cpp.
constexpr std::array rows{
    cause_row{"pitch-slope", 0.3, "tracking", "pitch slope"},
    cause_row{"pitch-offset", 10, "tracking", "pitch offset"},
    cause_row{"pitch-knee", 15, "tracking", "knee"},
    cause_row{"pitch-octave", 0.01, "tracking", "jump"},
    cause_row{"pitch-octave", 1, "tracking", "octave"},
    cause_row{"pitch-clip-top", 1.5, "tracking", "top clipped"},
    cause_row{"pitch-clip-bottom", 0.5, "tracking", "bottom clipped"},
    cause_row{"pitch-drift", 3, "tracking", "drift"},
    cause_row{"pitch-hysteresis", 20, "tracking", "hysteresis"},
    cause_row{"pitch-quantised", 23, "tracking", "steps of the converter"},
    cause_row{"pitch-early-read", 20, "tracking", "pitch read too early"},
    cause_row{"pitch-stale", 20, "tracking", "old pitch kept"},
    cause_row{"rate-ratio", 1, "tracking", "sample rate"},
    cause_row{"calibration-lost", 1, "tracking", "offset and slope,pitch slope,pitch offset"},
    cause_row{"calibration-layout", 1, "tracking", "pitch slope,offset and slope"},
    cause_row{"slide-strikes", 1, "retrigger", "slide strikes"},
    cause_row{"slide-fails-to-strike", 1, "retrigger", "slide does not strike"},
    cause_row{"slide-time", 30, "slide", "slide time"},
    cause_row{"slide-interval-dependence", 40, "slide", "slide time by interval"},
    cause_row{"slide-slow-8x", 1, "slide", "power of two"},
    cause_row{"slide-second-jumps", 1, "slide", "second slide jumps"},
    cause_row{"slide-interrupted-start", 50, "slide", "wrong start after an interruption"},
    cause_row{"slide-dead-waveform", 1, "slide", "dead in one setting"},
    cause_row{"slide-arrival-short", 8, "slide", "stops short"},
    cause_row{"slide-shape-hertz", 1, "slide", "other law"},
    cause_row{"slide-overshoot", 30, "slide", "overshoot"},
    cause_row{"step-smear", 6, "slide", "smeared steps"},
    cause_row{"legato-strikes", 1, "retrigger", "legato strikes"},
    cause_row{"step-fails-to-strike", 1, "retrigger", "legato does not strike"},
    cause_row{"filter-only-strikes", 1, "retrigger", "filter envelope alone"},
    cause_row{"amplitude-only-strikes", 1, "retrigger", "amplitude envelope alone"},
    cause_row{"trigger-dead-in-mode", 1, "level", "dead in one setting"},
    cause_row{"envelope-click", 100, "envelope", "click when struck again"},
    cause_row{"envelope-attack", 10, "envelope", "attack time"},
    cause_row{"envelope-release", 100, "envelope", "release time"},
    cause_row{"filter-decay", 40, "envelope", "filter decay"},
    cause_row{"amplitude-decay", -50, "envelope", "amplitude decay"},
    cause_row{"decay-follows-gate-length", 50, "envelope", "decay follows the gate's length"},
    cause_row{"tail-chopped", 60, "envelope", "tail chopped"},
    cause_row{"gate-stuck", 60000, "level", "gate stuck"},
    cause_row{"gate-inverted", 1, "level", "gate inverted"},
    cause_row{"gate-threshold", 4, "level", "no note sounds"},
    cause_row{"accent-late", 1, "accent", "accent one note late"},
    cause_row{"accent-early", 5, "accent", "accent not seen"},
    cause_row{"accent-strikes", 1, "retrigger", "accent strikes"},
    cause_row{"accent-never-falls", 100, "accent", "accent never falls back"},
    cause_row{"accent-build-up-absent", 100, "accent", "no build-up"},
    cause_row{"accent-level", 5, "accent", "accent's level"},
    cause_row{"accent-opens-less", 1.1, "accent", "accent's filter"},
    cause_row{"accent-decay", 100, "accent", "accented decay"},
    cause_row{"output-dc", 0.1, "level", "DC at the output"},
    cause_row{"output-inverted", 1, "stereo", "one output inverted"},
    cause_row{"output-dead", 1, "stereo", "one output dead"},
    cause_row{"output-delay", 1, "stereo", "one output late"},
    cause_row{"output-quieter", 1, "stereo", "one output quieter"},
    cause_row{"level-jump", 6, "level", "level jump"},
    cause_row{"output-noise", 0.01, "noise", "hiss"},
    cause_row{"block-tone", 0.01, "noise", "tone at the block rate"},
    cause_row{"mains-hum", 0.01, "noise", "mains hum"},
    cause_row{"led-tone", 0.01, "noise", "idle tone"},
    cause_row{"cv-bleed", 1, "noise", "bleed"},
    cause_row{"aliasing", 1, "waveform", "aliasing"},
    cause_row{"square-width", 1.5, "waveform", "width of the square"},
    cause_row{"blend-shift", 20, "waveform", "mix of the waves"},
    cause_row{"waveform-swapped", 100, "waveform", "switch positions exchanged"},
    cause_row{"waveform-unread", 1, "waveform", "switch not read"},
};

}  // namespace

std::span<const cause_row> cause_rows() noexcept {
    return rows;
}

}  // namespace cvrig::testing
