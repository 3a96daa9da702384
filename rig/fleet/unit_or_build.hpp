#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "rig/fleet/outliers.hpp"
#include "rig/fleet/selection.hpp"

namespace cvrig {

/// One part of a scatter, as a standard deviation with its 95 % limits.
struct scatter_part {
    double cents{0.0};
    double lower_cents{0.0}, upper_cents{0.0};
    double share{0.0};  ///< of the variance of all parts
};

/// Where the scatter of one trait comes from.
struct scatter_source {
    trait what{trait::gain};
    scatter_part units, builds, rest;
};

struct unit_or_build_found {
    std::size_t records{0}, units{0}, builds{0};
    bool repeats{false};      ///< some unit was measured twice with one build
    bool builds_told{false};  ///< else there was one build only, and its part is left out
    std::vector<scatter_source> sources;
    std::string why_not;  ///< one sentence: what cannot be told, and why; may be empty
};

/// Is it this unit or this build? Gain, offset and straightness of every record under default
/// constants, as a sum of what the unit, the build and the single record add.
///
/// Definition: two crossed random effects, restricted maximum likelihood. Without a repeated record
///             the rest holds both repetition and what one build does to one unit only. Where there
///             is one build: one-way analysis of variance, units against repetition.
/// Source:     analysis/variance_components.hpp.
/// Input:      each build with its own default constants. Of more than 250 units those with most
///             records count.
[[nodiscard]] unit_or_build_found tell_unit_from_build(const fleet_selection& s);

}  // namespace cvrig
