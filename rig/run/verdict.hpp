#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "analysis/uncertainty.hpp"
#include "rig/expectations/dimension.hpp"
#include "rig/expectations/settings.hpp"
#include "rig/expectations/value.hpp"

namespace cvrig {

/// pass and fail are sure by the guard band; unsure: the bench cannot tell; skipped: not played.
enum class verdict { pass, fail, unsure, skipped };

[[nodiscard]] std::string_view in_words(verdict v) noexcept;

/// The worse of two for a summary: fail, then unsure, then skipped, then pass.
[[nodiscard]] verdict worse(verdict a, verdict b) noexcept;

/// A measured quantity in the base unit of its dimension.
struct reading {
    double value{0.0};
    dimension unit{dimension::ratio};
    double standard_uncertainty{0.0};
    std::vector<analysis::contribution> budget;
    std::string at;  ///< where in the passage: "note 2.5 V going down", "0 V to 1 V"; may be empty
    /// The same as a number, where readings of one demand form a series: the note's volts, the
    /// number of the step.
    std::optional<double> where{};
    /// Of a note that is reached from below and from above: which of them.
    std::optional<bool> upward{};

    /// The largest part of the budget; null if there is none.
    [[nodiscard]] const analysis::contribution* largest() const noexcept;
};

/// An answer from a fixed list, with the odds that it is right.
struct answer {
    std::string text;       ///< the most likely answer
    double probability{0};  ///< that it is the true one, 0..1
    double probability_of_expected{0};
    std::string at;
};

/// One reading (or answer) against one limit (or expected word).
struct finding {
    std::string check;
    setting_choice choice;
    std::string name;  ///< the key of the expectation file: "time constant"
    std::optional<reading> measured;
    std::optional<answer> answered;
    std::optional<limit> allowed;
    std::optional<word> expected;
    verdict outcome{verdict::unsure};
    std::string reason;  ///< for unsure, fail and skipped: one plain sentence
    /// Everything that was read for this demand, of which `measured` lies worst, for a diagnosis.
    std::vector<reading> all{};
    /// Skipped for what it is, not for what happened: a saw has no duty. The outcome of the check is
    /// that of its other findings.
    bool does_not_apply{false};
    /// What else is worth knowing, each a plain sentence; reports show it with the finding.
    std::vector<std::string> notes{};
};

}  // namespace cvrig
