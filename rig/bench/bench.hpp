#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "analysis/units.hpp"
#include "rig/bench/channel_trim.hpp"
#include "rig/bench/console_settings.hpp"
#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// One socket of the interface that feeds a jack of the module.
struct bench_output {
    std::string jack;
    volts lowest{-0.1};  ///< never exceeded; the default is narrow
    volts highest{5.5};
    volts u{0.001};          ///< standard uncertainty of a voltage at the jack
    std::size_t channel{1};  ///< of the interface, from 1; by default the place in the list
    channel_trim trim;
    std::string socket;  ///< what is printed beside the socket: "OUT 3"; may be empty
    place where;
};

/// One socket of the interface that records a jack of the module.
struct bench_input {
    std::string jack;
    double u_gain_percent{0.5};  ///< standard uncertainty of the channel's gain
    std::size_t channel{1};      ///< of the interface, from 1; by default the place in the list
    channel_trim trim;
    std::string socket;
    place where;
};

/// A cable from an output of the interface straight to one of its inputs, by which the rig proves
/// itself.
struct loop_back {
    std::size_t output_channel{1};  ///< from 1; no jack uses it
    std::size_t input_channel{1};
    channel_trim output_trim;
    channel_trim input_trim;
    volts level{1.0};  ///< amplitude of what is sent through it
    std::string output_socket, input_socket;
    /// Both trims come from one trimming, where the one was measured by the other: the meter's error
    /// is in both and cancels from what comes back over what was sent.
    bool trimmed_as_one{false};
    place where;
};

/// A command that plays the stimulus into a host build of the DSP.
struct program_link_settings {
    /// With {stimulus}, {response}, {settings} and names that a run gives values, such as {image}.
    std::vector<std::string> command;
    sample_rate rate{48000.0};
    seconds time_limit{60.0};
    /// A line for the module's console that stands for a voltage which is held at a jack between
    /// takes, with {jack} and {volts}; empty: nothing can be held.
    std::string hold;
    place where;
};

/// One full-duplex stream on one audio interface.
struct audio_link_settings {
    std::string device;  ///< its name or a part of it that only one device has
    std::string api;     ///< "jack", "alsa", "pulse"; empty: the first that has the device
    sample_rate rate{48000.0};
    std::size_t block_frames{256};
    std::size_t blocks{0};              ///< in the driver's buffer; 0: as the driver likes
    std::optional<seconds> round_trip;  ///< without a loop-back cable: the latency, if it is known
    /// The interface is a program whose time is its own: its rate by the computer's clock and late
    /// callbacks say nothing, and only the loop-back tells whether a take is whole.
    bool simulated{false};
    place where;
};

/// A command that is run before a run: it builds the firmware, or brings it into the module.
struct bench_step {
    /// With {image}, {unit}, names of `--with` and, to flash, {port}.
    std::vector<std::string> command{};
    std::string folder{};  ///< in which it runs
    std::string makes{};   ///< the image that a build makes, with its folder; may be empty
    seconds time_limit{0.0};
    place where{};
};

/// Where the constants of the channels come from, if not from the bench file.
struct trim_origin {
    std::string date;   ///< "2026-11-25"
    std::string meter;  ///< what measured them; may be empty
};

/// The physical (or simulated) set-up, from a bench file.
struct bench {
    std::string name;
    program_link_settings program;  ///< the link, unless `audio` is there
    std::optional<audio_link_settings> audio;
    std::optional<loop_back> loop;
    std::optional<console_settings> console;
    std::string trim_file;               ///< where `cvrig trim` keeps its constants; may be empty
    std::optional<trim_origin> trimmed;  ///< the constants are those of that file
    std::vector<bench_output> outputs;   ///< in channel order
    std::vector<bench_input> inputs;     ///< in channel order
    std::optional<bench_step> build, flash;
    double u_clock_ppm{0.0};  ///< standard uncertainty of the sample clock
    std::string file;
    std::string sha256;

    [[nodiscard]] sample_rate rate() const noexcept { return audio ? audio->rate : program.rate; }
};

/// Reads and validates a bench file. Throws user_error with all complaints of the file at once.
[[nodiscard]] bench read_bench(const std::string& file);

/// What a bench cannot do for a module: jacks that no output feeds, recorded jacks that no input
/// hears, voltages (drive ranges, note stairs, steps) outside an output's limits. Empty if all
/// fits.
[[nodiscard]] std::vector<complaint> mismatches(const bench& b, const module_expectations& m);

}  // namespace cvrig
