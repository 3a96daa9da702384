#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rig/expectations/dimension.hpp"
#include "rig/expectations/settings.hpp"
#include "rig/run/verdict.hpp"

/// What a `cvrig report 1` (report.json) tells, as far as two of them can be compared.
namespace cvrig::evidence {

/// A reading as it was told.
struct told_reading {
    /// Empty: it was not finite, and JSON has no number for it.
    std::optional<double> value, standard_uncertainty;
    dimension unit{dimension::ratio};
    std::string at;              ///< where in the passage; may be empty
    int measurement_version{1};  ///< check_result::measurement_version
    double u_baseline{0.0};      ///< the part of u that comes from a baseline that it was judged by

    /// Without that part: what a baseline of its own brings along.
    [[nodiscard]] std::optional<double> own_uncertainty() const;
};

/// An answer from a fixed list.
struct told_answer {
    std::string text;
    std::optional<double> probability, probability_of_expected;
};

/// One demand and what came of it.
struct told_finding {
    std::string name;
    verdict outcome{verdict::unsure};
    std::string reason;
    std::optional<told_reading> measured;
    std::optional<told_answer> answered;
    std::string demand;                      ///< the limit or the word expected; may be empty
    std::optional<double> lower{}, upper{};  ///< of the limit, in the reading's base unit
    bool does_not_apply{false};
};

/// One check in one choice of settings.
struct told_check {
    std::string check;
    setting_choice choice;
    std::vector<told_finding> findings;
};

/// One uninterrupted play-and-record.
struct told_take {
    int number{0}, attempt{1};
    setting_choice choice;
    std::optional<double> length_s;
    std::vector<std::string> problems;
};

/// A whole report.
struct told_run {
    verdict outcome{verdict::unsure};
    std::string module, unit, build_name, build_sha256, bench_name, link;
    std::string expectations_sha256, bench_sha256;
    std::string commit, version;  ///< of the build; empty: not known, or an older report
    std::optional<std::uint64_t> size_bytes;  ///< of the firmware file
    std::string rig_version, started;
    double coverage_factor{2.0};
    std::vector<told_check> checks;
    std::optional<double> sound_s{}, wall_s{};
    bool is_partial{false};  ///< only some checks or settings of the file were asked for
    std::vector<told_take> takes{};
};

/// The settings that are the same wherever any are set.
[[nodiscard]] setting_choice settings_throughout(const told_run& run);

/// Reads a report's text. `file` is where it lies, for the sentences.
///
/// Refuses: throws user_error with one sentence for what is no JSON, no report, a report of a newer format,
///          a key that is missing or has a wrong kind of value, a verdict, quantity or number that there
///          cannot be.
[[nodiscard]] told_run read_report(std::string_view text, const std::string& file);

/// Reads `report.json` of a report folder. Throws user_error, also if there is none.
[[nodiscard]] told_run read_report_of(const std::filesystem::path& folder);

}  // namespace cvrig::evidence
