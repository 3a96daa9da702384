#include "tests/matrix/fault_rows.hpp"

#include <array>

namespace cvrig::testing {

namespace {

constexpr std::array rows{
    // 5 cents at 4 V are 5 / 4800 of four octaves.
    fault_row{"pitch-slope", 0.104, false, "tracking", "", ""},
    fault_row{"pitch-offset", 5, false, "tracking", "", ""},
    fault_row{"pitch-knee", 5, false, "tracking", "", ""},
    // 5 cents.
    fault_row{"pitch-octave", 5.0 / 1200.0, false, "tracking", "", ""},
    fault_row{"pitch-octave", 1, true, "tracking", "", ""},
    // The stair ends 1 V below the top of the range.
    fault_row{"pitch-clip-top", 1.0 + 4.0 / 1200.0, false, "tracking", "", ""},
    // A single note off by 4 cents departs from the line by nearly as much.
    fault_row{"pitch-clip-bottom", 4.0 / 1200.0, false, "tracking", "", ""},
    fault_row{"pitch-clip-bottom", 0.5, true, "tracking", "range,knob and jack,unplugged",
              "a filter is heard by a note that is half an octave off"},
    // 2 cents over a stair of 3.7 s.
    fault_row{"pitch-drift", 0.54, false, "tracking", "", ""},
    fault_row{"pitch-hysteresis", 1, false, "tracking", "", ""},
    // A note lies up to half a step off. With this grid no note 200 cents from the next comes to
    // lie half-way between two steps, where noise would decide: at half the size notes are up to a
    // third of a step off, at one and a half times up to four ninths.
    fault_row{"pitch-quantised", 1200.0 / 239.0, false, "tracking", "", ""},
    // The first 8 ms make up 0.63 of what is read of the first 12 ms.
    fault_row{"pitch-early-read", 4.8, false, "tracking", "", ""},
    // One of the fifty notes of the stair.
    fault_row{"pitch-stale", 2, false, "tracking", "", ""},
    fault_row{"pitch-stale", 20, true, "tracking", "slide", "any note may keep the pitch before"},
    // 5 cents are 0.289 %.
    fault_row{"rate-ratio", 0.289, false, "tracking", "", ""},
    fault_row{"calibration-lost", 1, true, "tracking", "", ""},
    fault_row{"calibration-layout", 1, true, "tracking", "", ""},
    fault_row{"slide-strikes", 1, true, "retrigger", "", ""},
    fault_row{"slide-fails-to-strike", 1, true, "retrigger", "", ""},
    fault_row{"slide-time", 10, false, "slide", "slide range", "a knob's slides are slides, too"},
    // The semitone is 11/12 octave from the octave, for which the time is right.
    fault_row{"slide-interval-dependence", 10.9, false, "slide", "", ""},
    fault_row{"slide-slow-8x", 1, true, "slide", "slide range", "a knob's slides are slides, too"},
    fault_row{"slide-second-jumps", 1, true, "slide", "", ""},
    fault_row{"slide-interrupted-start", 15, false, "slide", "", ""},
    fault_row{"slide-dead-waveform", 1, true, "slide", "", ""},
    fault_row{"slide-arrival-short", 2, false, "slide", "", ""},
    fault_row{"slide-shape-hertz", 1, true, "slide", "", ""},
    // To pass its end by so little, a slide of a semitone already has to hurry by a tenth.
    fault_row{"slide-overshoot", 1.4, false, "slide", "", ""},
    fault_row{"step-smear", 2, false, "slide", "tracking",
              "notes begin while the pitch still moves"},
    fault_row{"legato-strikes", 1, true, "retrigger", "", ""},
    fault_row{"step-fails-to-strike", 1, true, "retrigger", "", ""},
    fault_row{"filter-only-strikes", 1, true, "retrigger", "", ""},
    fault_row{"amplitude-only-strikes", 1, true, "retrigger", "", ""},
    fault_row{"accent-strikes", 1, true, "retrigger", "", ""},
    fault_row{
        "trigger-dead-in-mode", 1, true, "level",
        "tracking,slide,retrigger,accent,envelope,stereo,range,knob and jack,unplugged,extremes",
        "no note sounds in one mode"},
    // Rise 2.4 ms, at most 4 ms; 10 to 90 % of a straight rise is 0.8 of it.
    fault_row{"envelope-attack", 2, false, "envelope", "", ""},
    fault_row{"amplitude-decay", 10, false, "envelope", "", ""},
    // The ends of the decay's range may be off by 15 and 20 %.
    fault_row{"filter-decay", 20, false, "envelope", "range", "so are the ends of its range"},
    fault_row{"envelope-release", 20, false, "envelope", "", ""},
    // 10 % from 80 ms to 700 ms, which are 3.13 doublings.
    fault_row{"decay-follows-gate-length", 3.1, false, "envelope", "retrigger",
              "a filter decays otherwise after a gate of another length"},
    // 1 % is -40 dB.
    fault_row{"tail-chopped", 1, false, "envelope", "", ""},
    // -2 dB.
    fault_row{"envelope-click", 20.6, false, "envelope", "", ""},
    // The gap before a new gate is 10 ms. Shorter delays leave the release's beginning in doubt,
    // and
    // so have no size at which everything passes.
    fault_row{"gate-stuck", 12, true, "retrigger", "envelope,level", "the release begins late"},
    fault_row{"gate-stuck", 60000, true, "level",
              "slide,retrigger,accent,envelope,range,slide range,knob and jack,unplugged,extremes",
              "no note ends"},
    fault_row{"gate-inverted", 1, true, "level",
              "tracking,slide,retrigger,accent,envelope,stereo,range,slide range,knob and "
              "jack,unplugged,extremes",
              "notes sound in the gaps"},
    // The trip point is 1.5 V above the low gate.
    fault_row{"gate-edge-noise", 1.5, false, "level",
              "tracking,slide,retrigger,accent,envelope,stereo,range,slide range,knob and "
              "jack,unplugged,extremes",
              "the gate opens and closes at random"},
    // The trip point is 3.5 V below the high gate.
    fault_row{"gate-threshold", 3.5, false, "level",
              "tracking,slide,retrigger,accent,envelope,stereo", "no note sounds"},
    fault_row{"accent-late", 1, true, "accent", "level",
              "the held note after an accent is accented"},
    // Half a block.
    fault_row{"accent-early", 0.25, false, "accent", "", ""},
    // 0.5 dB of 1.05 dB after a rest of 2.5 time constants.
    fault_row{"accent-never-falls", 66, false, "accent", "", ""},
    // Build-up 0.87 dB, 0.3 dB demanded.
    fault_row{"accent-build-up-absent", 65, false, "accent", "", ""},
    // Rise 4 dB, at most 7 dB.
    fault_row{"accent-level", 3, false, "accent", "", ""},
    fault_row{"accent-opens-less", 0.72, false, "accent", "", ""},
    fault_row{"accent-decay", 43, false, "accent", "", ""},
    // 0.1 V.
    fault_row{"unplugged-floats", 0.1, false, "unplugged", "", ""},
    // 5 % of 1.25 V at the jack, beside a knob at 2.5 V.
    fault_row{"knob-jack-replace", 2.5, false, "knob and jack", "", ""},
    // 4 % of the range; half of it moves nothing beyond its limit.
    fault_row{"cutoff-dead-zone", 4, false, "range", "", ""},
    // 5 %.
    fault_row{"cutoff-range", 5, false, "range", "", ""},
    fault_row{"cutoff-not-monotonic", 1, true, "range", "knob and jack,unplugged",
              "the jack moves the cutoff by other amounts"},
    fault_row{"filter-dies", 1, true, "extremes", "", ""},
    fault_row{"accent-live", 1, true, "retrigger", "", ""},
    fault_row{"output-dc", 0.03, false, "level", "", ""},
    fault_row{"output-inverted", 1, true, "stereo", "", ""},
    fault_row{"output-dead", 1, true, "stereo", "level", "the right output has no level"},
    // 5 us at 48 kHz.
    fault_row{"output-delay", 0.24, false, "stereo", "", ""},
    fault_row{"output-quieter", 0.3, false, "stereo", "", ""},
    // Level 8.3 to 8.9 dBu, at most 12 dBu.
    fault_row{"level-jump", 3.4, false, "level", "", ""},
};

}  // namespace

std::span<const fault_row> fault_rows() noexcept {
    return rows;
}

}  // namespace cvrig::testing
