#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rig/run/result.hpp"

/// A run arranged for reading: by check, then by demand, then by choice of settings, so that the
/// same demand stands side by side for every mode. Points into the run it was made from.
namespace cvrig::report {

struct demand_row {
    const finding* what;
    const check_result* where;
};

/// One demand of a check in all choices. `at` tells apart several findings of one name in one
/// choice; else it is empty.
struct demand_group {
    std::string name;
    std::string at;
    std::vector<demand_row> rows;
};

struct check_group {
    std::string check;
    std::string reads;
    std::vector<const check_result*> results;
    std::vector<demand_group> demands;

    [[nodiscard]] verdict outcome() const noexcept;
};

/// Which settings vary in the run, and which stay put.
struct run_layout {
    setting_choice fixed;                 ///< settings with one value throughout
    std::vector<std::string> varied;      ///< names of the others, in order
    setting_choice usual;                 ///< of the varied ones, the value of most results
    std::string leading;                  ///< the varied one that tells most choices apart
    std::vector<std::string> terse;       ///< varied ones whose values say little without a name
    std::vector<setting_choice> choices;  ///< distinct choices of the varied ones, in run order
    std::vector<check_group> checks;      ///< in run order

    /// Of a whole choice, only what varies.
    [[nodiscard]] setting_choice varying_part(const setting_choice& whole) const;
    /// "tied" or "tied, cutoff knob half": the leading setting and what is not as usual; "as found"
    /// where the check sets nothing.
    [[nodiscard]] std::string label(const setting_choice& whole) const;
    /// The verdict of a check in one of `choices`; empty if it was not asked there.
    [[nodiscard]] std::optional<verdict> outcome_of(const check_group& group,
                                                    const setting_choice& choice) const;
};

[[nodiscard]] run_layout laid_out(const run_result& run);

/// "error", or "time constant, 0 V to 1 V".
[[nodiscard]] std::string title_of(const demand_group& group);

}  // namespace cvrig::report
