#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "rig/cli/exit_status.hpp"
#include "rig/fleet/tracking_record.hpp"
#include "rig/run/plan.hpp"

namespace cvrig {

/// What `cvrig run` was asked.
struct run_arguments {
    std::string expectations;
    std::string bench;
    std::string image;  ///< firmware image; replaces {image} in the bench's command
    std::string unit;   ///< specimen; replaces {unit}
    std::string build_name;
    std::string commit;                       ///< how version control describes the build's source
    std::map<std::string, std::string> with;  ///< further replacements
    run_filter filter;
    std::string report_folder{"cvrig-report"};
    std::string history;  ///< where the run is filed, as --history says it
    std::string
        baseline;  ///< report folder of the run that limits "of baseline" follow; empty: none
    std::string runs_folder;  ///< where tracking is filed for `cvrig fleet`; empty: nowhere
    constants_in_force constants{constants_in_force::unknown};
    bool keep_takes{false};
    bool bisect{false};
    bool quiet{false};
    bool unattended{false};  ///< nobody is there to turn knobs
    int tell{-1};            ///< descriptor to which the run's events go; -1: nowhere
    bool owned{false};       ///< whoever started the run owns the bench
    /// The module is spoken to beside the takes, and also after a stop, to leave it in good order.
    bool speaks{false};
    std::vector<std::string> program_folders;  ///< searched for the bench's program before PATH
};

/// What `cvrig calibrate` was asked.
struct calibrate_arguments {
    run_arguments run;       ///< of these, what to calibrate, where, and where the report goes
    bool write_best{false};  ///< write the best constants in the end
};

/// What `cvrig rejudge` was asked.
struct rejudge_arguments {
    std::string kept_folder;                  ///< the report folder of a run with --keep-takes
    std::optional<std::string> expectations;  ///< other limits; default: the kept file
    std::string report_folder;                ///< default: KEPT/rejudged
    bool bisect{false};
};

/// What `cvrig pack` was asked.
struct pack_arguments {
    std::string run_folder;  ///< the report folder of a run with --keep-takes
    std::string file;        ///< the evidence file; empty: named after what was judged
    bool with_image{false};
};

/// What `cvrig open` was asked.
struct open_arguments {
    std::string file;                         ///< evidence that `cvrig pack` made
    std::string report_folder;                ///< default: beside the file
    std::string against;                      ///< a report folder or evidence; empty: none
    std::optional<std::string> expectations;  ///< other limits; default: those inside
};

/// What `cvrig play` was asked.
struct play_arguments {
    std::string stimulus;  ///< WAV file in volts, one channel for each output of the bench
    std::string response;  ///< what comes back, one channel for each input
    std::string bench;
    bool quiet{false};
};

/// What `cvrig wiring` was asked.
struct wiring_arguments {
    std::string expectations;
    std::string bench;
    std::string html;                         ///< file for the picture; empty: none
    std::map<std::string, std::string> with;  ///< replacements in the console's address
};

/// What `cvrig patch` was asked.
struct patch_arguments {
    std::string expectations;
    std::string bench;
    std::map<std::string, std::string> with;  ///< replacements in the console's address
};

/// What `cvrig fleet` was asked.
struct fleet_arguments {
    std::vector<std::string> folders;  ///< that `cvrig run --runs` filled
    std::string build;                 ///< empty: the latest
    std::string limit{"5 cent"};
    setting_choice settings;    ///< only records with these
    std::string report_folder;  ///< for fleet.html and fleet.json; empty: none
    bool json{false};           ///< on standard output, instead of text
};

/// Plays, judges and reports. Throws user_error for what cannot be used.
[[nodiscard]] exit_status run_command(const run_arguments& arguments);

/// Walks a module through its own calibration and proves the result.
[[nodiscard]] exit_status calibrate_command(const calibrate_arguments& arguments);

/// Judges kept takes again.
[[nodiscard]] exit_status rejudge_command(const rejudge_arguments& arguments);

/// Makes one file of a run that can be given away, and says what was left out.
[[nodiscard]] exit_status pack_command(const pack_arguments& arguments);

/// Checks such a file, judges it again and says whether it reads as it did; with another run to set it
/// against, the status is that of the comparison: passed if nothing differs, failed if something
/// does, undecided if something could not be compared.
[[nodiscard]] exit_status open_command(const open_arguments& arguments);

/// Proves the bench over its loop-back cable and prints what came of it.
[[nodiscard]] exit_status selftest_command(const std::string& bench);

/// Leads a person with a meter through measuring every channel, and writes the trim file.
[[nodiscard]] exit_status trim_command(const std::string& bench, const std::string& meter);

/// Prints in plain words what a file will play, measure and demand, and how long that takes.
[[nodiscard]] exit_status explain_command(const std::string& expectations,
                                          const std::string& bench);

/// Plays a WAV file through the bench's interface and records the answer; ends undecided if the
/// record is not whole.
[[nodiscard]] exit_status play_command(const play_arguments& arguments);

/// Lists audio devices and serial ports, and what stands against each for a bench (or for a small
/// one, without a file).
[[nodiscard]] exit_status devices_command(const std::string& bench_file);

/// Prints which cable goes where, and what to mind; with a picture on request.
[[nodiscard]] exit_status wiring_command(const wiring_arguments& arguments);

/// Answers from filed tracking what units and builds do: which default constants are best, which unit
/// is odd, whether a build makes users calibrate again. Undecided for too few units.
[[nodiscard]] exit_status fleet_command(const fleet_arguments& arguments);

/// Listens to where each cable leads. Passed if all is as the bench file says, undecided if not.
[[nodiscard]] exit_status patch_command(const patch_arguments& arguments);

}  // namespace cvrig
