#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "analysis/units.hpp"
#include "rig/run/verdict.hpp"

namespace cvrig {

/// One curve or set of points of a plot, in the plot's units. `u` is empty or one standard
/// uncertainty a point (drawn as an error bar of k * u).
struct series {
    enum class look { line, points };
    std::string name;
    look drawn{look::line};
    std::vector<double> x, y, u;
};

/// A horizontal tolerance band of a plot.
struct band {
    std::string name;
    std::optional<double> lower, upper;
};

/// A plot of one check in one choice of settings: pitch error against volts, a slide with its fit.
struct plot {
    std::string title, x_label, y_label;
    std::vector<series> curves;
    std::vector<band> bands;
    std::string note;  ///< what to look at, one sentence; may be empty
};

/// The likeliest cause of what a check found wrong.
struct diagnosis {
    /// A short name, the same for every module: "pitch offset"; "no typical pattern" if none fits.
    std::string cause;
    /// One sentence for a reader, with the evidence: what was seen and what it points to.
    std::string sentence;
    /// The check whose cause this is, where it was taken over from one; else empty.
    std::string follows_from{};
};

/// A piece of sound that is worth keeping: what a wrong step sounded like. Reports put it into a
/// file beside them.
struct sound_clip {
    std::string name;  ///< unique in its result; becomes part of a file's name
    sample_rate rate{48000.0};
    std::vector<std::vector<float>> channels;  ///< volts, one for each recorded jack
};

/// Everything one check said about one choice of settings.
struct check_result {
    std::string check;
    std::string reads;  ///< one phrase from the check's spec
    setting_choice choice;
    std::vector<finding> findings;
    std::vector<plot> plots;
    int attempts{1};
    int measurement_version{1};            ///< check_spec::measurement_version
    std::optional<diagnosis> likeliest{};  ///< of a failed check
    std::vector<sound_clip> clips{};
    /// What was read beside the findings, for check::conclude to compare or for a tracking record; no
    /// report shows it.
    std::vector<reading> noted{};

    [[nodiscard]] verdict outcome() const noexcept;
    /// The finding of that name; null if there is none.
    [[nodiscard]] const finding* find(std::string_view name) const noexcept;
};

/// One uninterrupted play-and-record, as it is listed in a report.
struct take_summary {
    int number{0};
    setting_choice choice;
    seconds length{0.0};
    std::vector<std::string> checks;
    int attempt{1};                            ///< 2 and up: a retake
    std::vector<std::string> problems;         ///< empty for a good take
    std::string log;                           ///< what the module's program or console said
    std::string skipped{};                     ///< why it was not played, if it was not
    std::vector<std::string> module_faults{};  ///< such as a restart that nobody asked for
    std::vector<std::string> module_doubts{};  ///< why one may have gone unseen
};

/// What a live rig proved of itself before it judged the module. Its results never fail: a fault of
/// the rig is none of the firmware.
struct bench_account {
    std::vector<check_result> proofs;
    std::vector<std::string> facts;           ///< "round trip 769 samples (16.02 ms)"
    std::vector<std::string> cannot_exclude;  ///< faults that this bench would not see
    std::string wiring_picture;               ///< SVG of the rig's own making; may be empty

    [[nodiscard]] bool is_empty() const noexcept;
    [[nodiscard]] verdict outcome() const noexcept;
};

/// A command of the bench that was run before anything was played: build or flash.
struct preparation_step {
    std::string step;     ///< "build", "flash"
    std::string command;  ///< with its arguments, on one line
    std::string output;   ///< the last of what it wrote to stdout and stderr
    std::size_t left_out_bytes{0};
    seconds took{0.0};
    seconds time_limit{0.0};
};

/// How the build that is judged came to be, and into the module. All steps ended well: otherwise
/// nothing is judged.
struct preparation {
    std::vector<preparation_step> steps;
    std::vector<std::string> facts;  ///< "the console answered 1.2 s after flashing", one each
    std::string doubt{};  ///< why the module is not known to run what was flashed; empty: it does
};

/// A whole run: what was judged, on what, how, and what came of it. Everything volatile (times,
/// versions, paths) is passed in, so that a report of a given result is the same byte for byte.
struct run_result {
    std::string module;
    std::string build_name;       ///< as given or found; may be empty
    std::string build_sha256;     ///< of the image file; empty if there is none
    std::string build_commit{};   ///< how version control describes its source; empty: not known
    std::string build_version{};  ///< by the pattern of the check "image"; empty: not known
    std::optional<std::uintmax_t> build_size_bytes{};  ///< of the image file
    bool is_partial{false};  ///< only some checks or settings of the file were asked for
    std::string unit;        ///< specimen, as given; may be empty
    std::string bench_name;
    std::string link;  ///< one phrase: "program ferrule render, 48 kHz"
    std::string expectations_file, expectations_sha256;
    std::string bench_file, bench_sha256;
    std::string rig_version;
    std::string started;        ///< ISO 8601, UTC
    seconds sound{0.0};         ///< length of all takes
    seconds analysis_cpu{0.0};  ///< CPU time of the analysis
    seconds wall{0.0};
    double coverage_factor{2.0};
    preparation prepared{};
    bench_account bench;
    std::vector<take_summary> takes;
    std::vector<check_result> checks;

    [[nodiscard]] verdict outcome() const noexcept;
    /// How many demands have that verdict, without those that do not apply.
    [[nodiscard]] std::size_t count(verdict v) const noexcept;
};

}  // namespace cvrig
