#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rig/fleet/best_default.hpp"

namespace cvrig {

/// The share of all units, also of those that nobody has measured, within a limit with one default.
struct unseen_share {
    default_kind kind{default_kind::now};
    kept_count counted;             ///< each with the default that the others choose
    double lower{0.0}, upper{1.0};  ///< about 95 % confidence limits of the share
};

/// By counting alone, each unit left out once.
///
/// Definition: binomial limits, 2.5 % on either side; for the lower one only units surely within
///             count, for the upper one all that are not surely outside.
/// Source:     C. J. Clopper and E. S. Pearson 1934, Biometrika 26.
/// Error:      the limits are exact for independent draws: for `now`, if it was chosen from none of these
///             units, which nobody here knows. Counts by leaving one out are not independent, since
///             the units share in each other's defaults, and they judge a default of one unit less: for
///             `minimax` and `median` the confidence is about 95 %.
/// Input:      defaults with their counts for unseen units; none where there are too few units.
[[nodiscard]] std::vector<unseen_share> unseen_shares(std::span<const default_choice> defaults);

/// The best share of several defaults, as far as it may be claimed for the one that came out best.
struct best_unseen_share {
    default_kind kind{default_kind::now};
    double lower{0.0};
    std::size_t chosen_from{1};  ///< so many defaults
};

/// The default with the highest lower limit for `limit_cents`; empty if there is none for that limit.
///
/// Definition: one-sided limits with confidence 1 - 0.05 / m, of m defaults: so all of them hold at once
///             with about 95 %, whichever is chosen afterwards (Bonferroni's inequality).
/// Source, Error: as unseen_shares, by analysis/proportion.hpp.
[[nodiscard]] std::optional<best_unseen_share> best_of(std::span<const unseen_share> shares,
                                                       double limit_cents);

/// What the worst of n units says of all: with about 95 % confidence at least `share` of them is no worse.
struct unseen_worst {
    default_kind kind{default_kind::now};
    double worst_cents{0.0};
    double u_cents{0.0};
    double share{0.0};
};

/// Source: S. S. Wilks 1941, Ann. Math. Stat. 12: one end of the sample.
/// Error:  as unseen_shares: exact for independent draws only. Errors that are each found by leaving one out are
///         none, so it holds about.
[[nodiscard]] std::vector<unseen_worst> unseen_worsts(std::span<const default_choice> defaults);

/// What normal theory says at one end of the range, if it may say anything.
struct normal_bound {
    double at_volts{0.0};
    std::size_t units{0};
    double mean_cents{0.0}, sd_cents{0.0};
    double anderson_darling{0.0};  ///< A*^2 for unknown mean and variance
    double p{0.0};                 ///< of a value as large, if the errors were normal
    bool speaks{false};
    std::string why_not;  ///< one sentence, if it does not
    /// About 95 % sure that 90 % of units lie within +- so many cents of pitch with each default.
    struct bound {
        default_kind kind{default_kind::now};
        double cents{0.0};
    };
    std::vector<bound> bounds;
};

/// Normal tolerance intervals at both ends of the range, on each unit's own best line; only from 8
/// units on and if an Anderson-Darling test rejects normality at 5 % at neither end.
///
/// Definition: mean +- k s holds 90 % of units with 95 % confidence; a default shifts it as a whole.
/// Error:      the factor k is exact for a default that was chosen from none of these units, and about right for
///             one that was.
/// Source:     ISO 16269-6 (two-sided normal tolerance intervals), by analysis/tolerance.hpp.
[[nodiscard]] std::vector<normal_bound> normal_bounds(const fleet_selection& s,
                                                      std::span<const default_choice> defaults);

}  // namespace cvrig
