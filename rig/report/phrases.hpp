#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rig/report/groups.hpp"
#include "rig/run/result.hpp"

/// The sentences and cells that all reports share, so that they never contradict each other.
namespace cvrig::report {

/// "7.31 cent ± 0.42 cent" (± k * u) or "starts again (99.4 %)"; "no reading" if there is none.
[[nodiscard]] std::string reading_text(const finding& f, double coverage_factor);

/// What is demanded, as the file says it: "within 5 cent", "goes on".
[[nodiscard]] std::string demand_text(const finding& f);

/// A probability as per cent; never rounded up to certainty or down to impossibility.
[[nodiscard]] std::string odds_text(double probability);

/// "bench voltage, 0.36 cent of 0.42 cent" (standard uncertainties); empty without a budget.
[[nodiscard]] std::string largest_part_text(const finding& f);

/// With a capital (ASCII letters only) and an end.
[[nodiscard]] std::string sentence(std::string text);

/// Why a finding did not pass: place and reason; for unsure ones also where the doubt comes from.
/// Empty for a pass.
[[nodiscard]] std::vector<std::string> explanation(const finding& f);

/// Explanations in the order in which they are shown; of a long one that repeats what stands right
/// before it, only that. One fault of the bench is the reason of a hundred findings.
class explainer {
public:
    [[nodiscard]] std::vector<std::string> of(const finding& f);
    [[nodiscard]] std::vector<std::string> of(std::vector<std::string> lines);

private:
    std::vector<std::string> last_;
};

/// The likeliest causes of what a check found wrong, each once: "tied, wide: Offset only: ...".
[[nodiscard]] std::vector<std::string> causes_of(const check_group& group,
                                                 const run_layout& layout);

/// What is to be said of a take that did not go as it should: why it was not played, what its link
/// complained about, what the module did. Empty for a good one.
[[nodiscard]] std::vector<std::string> troubles_of(const take_summary& t);

/// "Built in 12.3 s, flashed in 4.1 s. The module says that ..."; empty where neither was done.
[[nodiscard]] std::string prepared_text(const run_result& run);

/// "20 of 24 demands met, 3 not met, 1 unsure."
[[nodiscard]] std::string tally(const run_result& run);

/// "Ferrule, build 1.4.0, unit 07".
[[nodiscard]] std::string specimen(const run_result& run);

/// What to do next, most urgent first; one sentence or two each.
[[nodiscard]] std::vector<std::string> next_steps(const run_result& run);

/// "1 take", "3 takes".
[[nodiscard]] std::string counted(std::size_t n, std::string_view one, std::string_view many);

/// The name of a dimension as reports for machines write it: "volts", "seconds", ...
[[nodiscard]] std::string_view dimension_name(dimension d) noexcept;
/// The dimension of such a name; nothing for another word.
[[nodiscard]] std::optional<dimension> dimension_named(std::string_view word) noexcept;

}  // namespace cvrig::report
