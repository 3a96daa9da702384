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
    fault_row{"pitch-octave", 1, true, "tracking", "pattern,clicks,gate",
              "notes above 3 V are in the line too; a slow way of the pitch jumps; gates are heard "
              "by a high note"},
    // The stair ends 1 V below the top of the range.
    fault_row{"pitch-clip-top", 1.0 + 4.0 / 1200.0, false, "tracking", "", ""},
    // A single note off by 4 cents departs from the line by nearly as much.
    fault_row{"pitch-clip-bottom", 4.0 / 1200.0, false, "tracking", "", ""},
    fault_row{
        "pitch-clip-bottom", 0.5, true, "tracking", "pattern,range,knob and jack,unplugged",
        "low notes are in the line too; a filter is heard by a note that is half an octave off"},
    // 2 cents over a stair of 3.7 s.
    fault_row{"pitch-drift", 0.54, false, "tracking", "pattern", "the line lasts 28 s"},
    fault_row{"pitch-hysteresis", 1, false, "tracking", "", ""},
    // A note lies up to half a step off. With this grid no note 200 cents from the next comes to
    // lie half-way between two steps, where noise would decide: at half the size notes are up to a
    // third of a step off, at one and a half times up to four ninths.
    fault_row{"pitch-quantised", 1200.0 / 239.0, false, "tracking", "clicks",
              "a slow way of the pitch goes in steps"},
    // The first 8 ms make up 0.63 of what is read of the first 12 ms.
    fault_row{"pitch-early-read", 4.8, false, "tracking", "", ""},
    // One of some 150 gates of the pattern's line.
    fault_row{"pitch-stale", 0.6, false, "pattern", "tracking", "one note of fifty may be hit"},
    fault_row{"pitch-stale", 20, true, "tracking", "slide,pattern,latency",
              "any note may keep the pitch before; some steps of the line too"},
    // 5 cents are 0.289 %.
    fault_row{"rate-ratio", 0.289, false, "tracking", "", ""},
    fault_row{"calibration-lost", 1, true, "tracking", "pattern", "the notes of the line too"},
    fault_row{"calibration-layout", 1, true, "tracking", "pattern", "the notes of the line too"},
    fault_row{"slide-strikes", 1, true, "retrigger", "pattern", "slid steps are in the line too"},
    fault_row{"slide-fails-to-strike", 1, true, "retrigger", "pattern",
              "slid steps are in the line too"},
    fault_row{"slide-time", 10, false, "slide", "slide range", "a knob's slides are slides, too"},
    // The semitone is 11/12 octave from the octave, for which the time is right.
    fault_row{"slide-interval-dependence", 10.9, false, "slide", "pattern",
              "slides of three octaves are in the line"},
    fault_row{"slide-slow-8x", 1, true, "slide", "pattern,slide range",
              "slid steps are in the line too; a knob's slides are slides, too"},
    fault_row{"slide-second-jumps", 1, true, "slide", "pattern", "slid steps are in the line too"},
    fault_row{"slide-interrupted-start", 15, false, "slide", "", ""},
    fault_row{"slide-dead-waveform", 1, true, "slide", "", ""},
    fault_row{"slide-arrival-short", 2, false, "slide", "", ""},
    fault_row{"slide-shape-hertz", 1, true, "slide", "pattern", "slid steps are in the line too"},
    fault_row{"slide-overshoot", 6, false, "slide", "", ""},
    fault_row{"step-smear", 2, false, "slide", "tracking,latency",
              "notes begin while the pitch still moves"},
    fault_row{"legato-strikes", 1, true, "retrigger", "pattern", "tied steps are in the line too"},
    fault_row{"step-fails-to-strike", 1, true, "retrigger", "pattern",
              "tied steps are in the line too"},
    fault_row{"filter-only-strikes", 1, true, "retrigger", "pattern",
              "slid steps are in the line too"},
    fault_row{"amplitude-only-strikes", 1, true, "retrigger", "pattern",
              "slid steps are in the line too"},
    fault_row{"accent-strikes", 1, true, "retrigger", "pattern",
              "tied steps with an accent are in the line too"},
    fault_row{"trigger-dead-in-mode", 1, true, "level",
              "tracking,slide,retrigger,accent,envelope,stereo,clicks,range,knob and "
              "jack,unplugged,extremes",
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
    fault_row{"tail-chopped", 1, false, "envelope", "clicks", "a cut tail clicks"},
    // Any drop of the level under a sounding wave is a click, long before the 2 dB that the
    // envelope check allows.
    fault_row{"envelope-click", 31, true, "envelope,clicks", "", ""},
    fault_row{"envelope-click", 10.3, true, "clicks", "", ""},
    // The gap before a new gate is 10 ms. Shorter delays leave the release's beginning in doubt,
    // and
    // so have no size at which everything passes.
    fault_row{"gate-stuck", 12, true, "retrigger",
              "envelope,level,gate,clicks,extremes,knob and jack,pattern,range,slide "
              "range,unplugged,waveform,latency",
              "the release begins late, and fast gates run into each other; their notes, too"},
    fault_row{
        "gate-stuck", 60000, true, "level",
        "tracking,slide,retrigger,accent,envelope,noise,pattern,latency,gate,clicks,range,slide "
        "range,knob and jack,unplugged,extremes,waveform",
        "no note ends; its notes too; their notes, too"},
    fault_row{"gate-inverted", 1, true, "level",
              "tracking,slide,retrigger,accent,envelope,stereo,waveform,noise,pattern,latency,gate,"
              "clicks,range,slide range,knob and jack,unplugged,extremes",
              "notes sound in the gaps; its notes too"},
    // The trip point is 1.5 V above the low gate.
    fault_row{"gate-edge-noise", 2.25, true, "level",
              "tracking,slide,retrigger,accent,envelope,stereo,latency,gate,clicks,knob and "
              "jack,noise,pattern,range,unplugged,waveform,slide range,extremes",
              "the gate opens and closes at random; their notes, too"},
    // A slow edge that strays by 50 mV and noise of as much again are as wide as the hysteresis.
    fault_row{"gate-edge-noise", 0.08, false, "gate", "", ""},
    // The trip point is 3.5 V below the high gate.
    fault_row{"gate-threshold", 5.25, true, "level",
              "tracking,slide,retrigger,accent,envelope,stereo,latency,gate,clicks,extremes,knob "
              "and jack,noise,pattern,range,slide range,unplugged,waveform",
              "no note sounds; their notes, too"},
    // The trip point is 1.4 V to 1.6 V, at most 2 V.
    fault_row{"gate-threshold", 0.5, false, "gate", "", ""},
    // 0.1 V of 0.2 V; the bench's rough edge is as wide.
    fault_row{"gate-hysteresis-less", 50, false, "gate", "", ""},
    // A trigger of 1 ms must count.
    fault_row{"gate-bounces", 20, true, "gate", "accent,latency,pattern",
              "an accent that is struck twice builds up twice; any gate may bounce"},
    fault_row{"gate-debounced", 1, false, "gate", "latency,retrigger,envelope",
              "every gate comes and goes late"},
    // The lead needed is 0.8 ms, at most 3 ms.
    fault_row{"pitch-late", 2.2, false, "latency", "slide,retrigger,tracking",
              "notes and slides begin with the pitch before"},
    // Looking once in 1.11 ms, nine tenths of the triggers of 1 ms are seen.
    fault_row{"gate-poll", 1.11, false, "gate", "latency", "gates wait until they are looked at"},
    fault_row{"accent-late", 1, true, "accent", "level,pattern",
              "the held note after an accent is accented; accents are in the line too"},
    // Half a block.
    fault_row{"accent-early", 0.25, false, "accent", "pattern", "accents are in the line too"},
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
    fault_row{"accent-live", 1, true, "retrigger", "pattern",
              "tied steps with an accent are in the line too"},
    fault_row{"output-dc", 0.03, false, "level", "", ""},
    fault_row{"output-inverted", 1, true, "stereo", "", ""},
    fault_row{"output-dead", 1, true, "stereo", "level,waveform,noise,clicks",
              "the right output has no level"},
    // 5 us at 48 kHz.
    fault_row{"output-delay", 0.24, false, "stereo", "", ""},
    fault_row{"output-quieter", 0.3, false, "stereo", "", ""},
    // Within the second half of the pattern, when all other takes are over.
    fault_row{"reset-mid-pattern", 26, true, "pattern", "", ""},
    // One of some 150 gates of the line.
    fault_row{"note-lost", 0.6, false, "pattern", "", ""},
    fault_row{"slide-flag-late", 5, true, "pattern", "slide,retrigger,slide range",
              "slides become jumps; its slides become jumps"},
    // Level 8.3 to 8.9 dBu, at most 12 dBu.
    fault_row{"level-jump", 3.4, false, "level", "accent",
              "an accented note on top of it meets the supply rails"},
    fault_row{"boot-pop", 0.02, false, "clicks", "envelope",
              "the opening silence tells how much noise hides the end of a note"},
    fault_row{
        "dropouts", 4, true, "clicks",
        "tracking,slide,retrigger,accent,envelope,level,stereo,latency,gate,knob and jack,range,"
        "waveform,unplugged,pattern",
        "blocks are missing from any note; any note may have a hole, or begin behind one"},
    fault_row{"repeat-block", 4, true, "clicks",
              "tracking,slide,retrigger,accent,envelope,level,stereo,gate,latency,pattern,range,"
              "slide range,waveform,knob and jack,unplugged,extremes",
              "the time of any note is torn; any note may be lengthened"},
    fault_row{"missing-block", 4, true, "clicks",
              "tracking,slide,retrigger,accent,envelope,level,stereo,gate,latency,pattern,range,"
              "slide range,waveform,knob and jack,unplugged,extremes",
              "the time of any note is torn; any note may be shortened"},
    // -45 dB of a note of 5.3 V; one odd sample at 48 kHz is as sharp as a step 1.38 times as high.
    fault_row{"crackle", 0.0217, false, "clicks", "noise", "crackle is noise, too"},
    fault_row{"slide-click", 0.0287, false, "clicks", "", ""},
    // The pitch moves by 800 cents a second, 4 cents in 5 ms.
    fault_row{"zipper", 5, false, "clicks", "", ""},
    fault_row{"cutoff-steps", 0.05, false, "clicks", "", ""},
    // Delay 0.74 ms, at most 2 ms; a block is 0.5 ms.
    fault_row{"latency", 2.52, false, "latency", "", ""},
    // Jitter at most 0.4 ms, which is that of 1.39 ms; every block of it adds 0.5 ms to the 0.5 ms of
    // the good build.
    fault_row{"strike-jitter", 2, false, "latency", "gate,retrigger,envelope",
              "a strike that comes later than its trigger lasts is lost, and a late one ends late"},
    fault_row{"aliasing", 1, true, "waveform", "tracking,clicks,latency",
              "aliases pull the pitch of high notes; aliases move from note to note"},
    // 1 % of the period, 5 % of the mix.
    fault_row{"square-width", 1, false, "waveform", "", ""},
    fault_row{"blend-shift", 5, false, "waveform", "", ""},
    fault_row{"waveform-swapped", 100, true, "waveform",
              "retrigger,level,clicks,knob and jack,range,unplugged",
              "a square is louder than a saw; the wave is no sawtooth"},
    fault_row{"waveform-unread", 1, true, "waveform", "", ""},
    // -70 dBu are 0.245 mV in a band of 20 kHz, of which the good build has 0.091 mV; white noise
    // up to 24 kHz has 0.913 of its rms in that band.
    fault_row{"output-noise", 0.00025, false, "noise", "", ""},
    // -80 dBu are 0.1095 mV peak.
    fault_row{"block-tone", 0.0001095, false, "noise", "", ""},
    fault_row{"mains-hum", 0.0001095, false, "noise", "", ""},
    fault_row{"led-tone", 0.0001095, false, "noise", "", ""},
    // -80 dB.
    fault_row{"cv-bleed", 0.01, false, "noise", "", ""},
};

}  // namespace

std::span<const fault_row> fault_rows() noexcept {
    return rows;
}

}  // namespace cvrig::testing
