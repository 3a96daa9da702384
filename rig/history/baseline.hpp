#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "rig/history/stored_run.hpp"

namespace cvrig::history {

/// A run whose readings later builds are compared with.
struct baseline {
    std::int64_t id{0};
    stored_run run;
    std::string approved;     ///< when: ISO 8601, UTC
    std::string approved_by;  ///< who; may be empty
    std::string note;         ///< why; may be empty
};

/// Who approves a run, when and why.
struct approval {
    std::string when, who, note;
};

/// Makes a run the baseline of its module, unit and bench; the one before stays in the list.
/// Refuses: throws store_error for a run that failed, was unsure or judged only a part of its file, unless a note says why it will do. One
///          that skipped demands will do: those that follow a baseline have none before the first.
baseline approve(database& in, const stored_run& run, const approval& by);

/// All that were ever approved, newest first.
[[nodiscard]] std::vector<baseline> list_baselines(database& in);

/// What is measured: a unit of a module on a bench.
struct subject {
    std::string module, unit, bench;
};

/// The baseline in force for it: the one that was approved last. Nothing if there is none.
[[nodiscard]] std::optional<baseline> baseline_of(database& in, const subject& of);

}  // namespace cvrig::history
