#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "rig/evidence/read_report.hpp"

namespace cvrig::evidence {

/// One fact that two runs do not share: the unit, the build, a file. It may explain every other
/// difference.
struct circumstance {
    std::string what;  ///< "unit", "build", "firmware file", "bench file", ...
    std::string first, second;
};

/// A demand that both runs judged.
struct compared_finding {
    std::string check;
    setting_choice choice;
    std::string name;
    told_finding first, second;
    /// |a - b| in units of k sqrt(ua^2 + ub^2); empty where it cannot be told. Infinite if both are sure and
    /// not equal.
    std::optional<double> times_allowed{};
    std::optional<double> difference{};  ///< b - a, in the base unit
};

/// A demand that only one of the runs judged.
struct lone_finding {
    std::string check;
    setting_choice choice;
    std::string name;
};

/// How far two runs agree.
struct comparison {
    std::vector<circumstance> circumstances;
    setting_choice throughout;  ///< settings that are the same for every check of both that has any
    double coverage_factor{2.0};              ///< k; the larger one of both
    std::size_t readings{0}, answers{0};      ///< how many could be compared
    std::vector<compared_finding> differing;  ///< readings and answers that differ for sure
    std::vector<compared_finding> other_verdicts;
    std::vector<compared_finding>
        incomparable;  ///< one has no reading, its uncertainty is unknown, or it is measured otherwise
    std::vector<lone_finding> only_first, only_second;
    /// The reading that lies farthest apart; empty if none was compared or all are equal.
    std::optional<compared_finding> farthest{};

    [[nodiscard]] std::size_t compared() const noexcept { return readings + answers; }
    /// True if something differs for sure: a reading, an answer, a pass that is a fail.
    [[nodiscard]] bool differs() const noexcept;
    /// True if everything that was judged could be compared, and nothing is left open.
    [[nodiscard]] bool is_complete() const noexcept;
    /// How many readings of equal modules would differ by chance alone, if all uncertainty were scatter.
    [[nodiscard]] double by_chance() const noexcept;
};

/// Sets two runs side by side. Pure.
///
/// Definition: demands belong together by check, settings and name (the n-th of a name to the n-th). Two readings
///             differ if |a - b| > k sqrt(ua^2 + ub^2), two answers if they are not the same word and
///             each has a probability that k makes sure (one-sided: 0.977 for k = 2).
/// Source:     the standard uncertainty of a difference of independent readings, JCGM 100:2008, 5.1.2.
/// Error:      what both share (the same bench, the same samples) cancels from a - b, but not from u: such
///             runs may differ truly and are not told so.
[[nodiscard]] comparison compare(const told_run& first, const told_run& second);

}  // namespace cvrig::evidence
