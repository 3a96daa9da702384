#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "analysis/units.hpp"
#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// One socket of the interface that feeds a jack of the module.
struct bench_output {
    std::string jack;
    volts lowest{-0.1};  ///< never exceeded; the default is narrow
    volts highest{5.5};
    volts u{0.001};  ///< standard uncertainty of a voltage at the jack
    place where;
};

/// One socket of the interface that records a jack of the module.
struct bench_input {
    std::string jack;
    double u_gain_percent{0.5};  ///< standard uncertainty of the channel's gain
    place where;
};

/// A command that plays the stimulus into a host build of the DSP.
struct program_link_settings {
    /// With {stimulus}, {response}, {settings} and names that a run gives values, such as {image}.
    std::vector<std::string> command;
    sample_rate rate{48000.0};
    seconds time_limit{60.0};
    place where;
};

/// The physical (or simulated) set-up, from a bench file.
struct bench {
    std::string name;
    program_link_settings program;
    std::vector<bench_output> outputs;  ///< in channel order
    std::vector<bench_input> inputs;    ///< in channel order
    double u_clock_ppm{0.0};            ///< standard uncertainty of the sample clock
    std::string file;
    std::string sha256;
};

/// Reads and validates a bench file. Throws user_error with all complaints of the file at once.
[[nodiscard]] bench read_bench(const std::string& file);

/// What a bench cannot do for a module: jacks that no output feeds, recorded jacks that no input
/// hears, voltages (drive ranges, note stairs, steps) outside an output's limits. Empty if all
/// fits.
[[nodiscard]] std::vector<complaint> mismatches(const bench& b, const module_expectations& m);

}  // namespace cvrig
