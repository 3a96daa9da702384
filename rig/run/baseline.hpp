#pragma once

#include <span>
#include <string>
#include <vector>

#include "rig/expectations/expectations.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// One reading of an approved run, which a limit such as "within 2 cent of baseline" follows.
struct baseline_reading {
    std::string check;
    setting_choice settings;  ///< as a report tells them; none for a check that hears nothing
    std::string name;         ///< of the demand, as in the file: "time constant"
    double value{0.0};        ///< in the base unit of its dimension
    double standard_uncertainty{0.0};
    std::string run;          ///< which run it is of
    std::string build{};      ///< and which build; may be empty
    std::string elsewhere{};  ///< " of unit 8", " on bench lab", where it is not the judged run's
};

/// Whether any limit of the file follows a baseline.
[[nodiscard]] bool follows_baseline(const module_expectations& m);

/// The expectations with each limit that follows a baseline set by the reading of the same check,
/// settings and name; where several are known, by the first. Limits without one stay as they are,
/// and nothing passes or fails by them. Pure. Planning is to come after this, since checks plan by
/// their limits.
[[nodiscard]] module_expectations with_baseline(module_expectations m,
                                                std::span<const baseline_reading> known);

/// Those of `known` that the file's limits follow, which must be kept to judge again.
[[nodiscard]] std::vector<baseline_reading> followed(const module_expectations& m,
                                                     std::span<const baseline_reading> known);

/// The standard uncertainty that a limit has from the baseline that it follows; else 0.
[[nodiscard]] double u_of_baseline(const limit& allowed) noexcept;

/// Judges `f.all` by `f.allowed`, which follows a baseline: the largest reading stands for all of
/// them (the highest level, else that farthest from 0, whatever its sign), as it did in the
/// baseline; of "at most ... below", the smallest. That another is surely no larger than allowed is
/// demanded, too; if it is not, it is shown instead. Of several readings that are no levels only the
/// size counts: the limit of `f` becomes one for the sign that was read. The budget of what is shown
/// has a part "baseline". Without a baseline the finding is skipped.
void set_against_baseline(finding& f, double coverage_factor);

/// Every finding that was read, but has no baseline to follow, becomes skipped and says how to
/// approve one. A run with such a demand never passes.
void skip_without_baseline(std::vector<check_result>& results);

/// Why a demand is skipped that has no baseline to follow.
[[nodiscard]] std::string no_baseline_for(const limit& demanded);

}  // namespace cvrig
