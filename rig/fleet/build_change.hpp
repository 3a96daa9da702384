#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "rig/fleet/selection.hpp"

namespace cvrig {

/// How much the units' errors moved at one end of the range, from one build to the next.
struct shift_at {
    double at_volts{0.0};
    double mean_cents{0.0};
    /// 95 % confidence interval of the mean, wider by build_change::benches_cents on either side.
    double low_cents{0.0}, high_cents{0.0};
    double least_cents{0.0}, most_cents{0.0};  ///< of single units
    double u_unit_cents{0.0};                  ///< standard, of one unit's shift
};

/// What two builds that follow each other do to the same units.
struct build_change {
    enum class verdict {
        none,         ///< nothing moves by more than the limit
        calibrate,    ///< all units on average move by more
        some,         ///< some units do
        cannot_tell,  ///< too few units, or too near to the limit
    };
    std::string from, to;
    std::vector<std::string> units;  ///< that were measured with both under like constants
    bool under_own{false};           ///< their own constants; else the default's
    bool reckoned{false};            ///< numbers known: both builds are reckoned to the same ones
    std::vector<shift_at> ends;      ///< low end, high end; empty if there are too few units
    verdict says{verdict::cannot_tell};
    double benches_cents{0.0};  ///< expanded: what the benches themselves may differ by
    /// Units that were calibrated between the builds and cannot be compared for it (pairs_under()).
    std::vector<std::string> calibrated_between;
    std::size_t moved{0};  ///< units that surely moved by more than the limit
    std::string why;       ///< one sentence, if it cannot be told
};

/// Whether a new build makes users calibrate again: for each pair of builds that follow each other (by
/// their first records), how the same units' best lines moved.
///
/// Definition: a unit counts with its latest records of both builds that can be compared, under own
///             constants, else under the default. Where both records tell their constants the newer is
///             reckoned to those of the older, so that what is left is how codes changed. The mean's
///             interval is Student's, over units, and on either side k times what the benches add to the
///             mean: the root sum of squares of both records' common parts, averaged over all units, 0
///             for those that were on one bench.
/// Source:     GUM, JCGM 100:2008, G.3.2, for the interval.
/// Input:      a single unit's shift is uncertain by both stairs' notes and, on two benches, by what
///             the benches add.
[[nodiscard]] std::vector<build_change> find_build_changes(const fleet_selection& s,
                                                           double limit_cents,
                                                           double coverage_factor);

}  // namespace cvrig
