#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "rig/fleet/selection.hpp"

namespace cvrig {

/// By what one unit differs from the others.
enum class trait { gain, offset, straightness, hysteresis, scatter };

/// "gain", "offset", ...
[[nodiscard]] std::string_view in_words(trait t) noexcept;

/// A unit that is unlike the others.
struct outlier {
    std::string unit;
    trait what{trait::gain};
    double cents{0.0};         ///< of the unit; an octave for the gain
    double median_cents{0.0};  ///< of all units
    double u_cents{0.0};       ///< of the unit's reading
    double score{0.0};         ///< distance from the median, in robust standard deviations
    double at_volts{0.0};      ///< straightness: where
    std::string points_to;     ///< one phrase; empty where nothing is sure
};

/// How the units of a fleet spread in one trait.
struct spread {
    trait what{trait::gain};
    std::size_t units{0};
    double median_cents{0.0};
    double robust_sd_cents{0.0};  ///< 1.4826 times the median absolute deviation
    double lowest_cents{0.0}, highest_cents{0.0};
};

struct outliers_found {
    std::vector<spread> spreads;
    std::vector<outlier> outliers;  ///< by unit, then by trait
    double threshold{0.0};          ///< for the score
    std::string why_not;            ///< one sentence, if outliers cannot be told
};

/// Units that are unlike the others, trait by trait.
///
/// Definition: score = |x - median| / max(1.4826 MAD, u of x); straightness and scatter only upwards,
///             u of a scatter as if it were the median one. An outlier has a score above 4.1 + 28 / n
///             and lies 0.1 cents away or more. Below 8 units none is named.
/// Source:     median and MAD as in B. Iglewicz and D. C. Hoaglin, "How to detect and handle
///             outliers", ASQC 1993 (from memory), who take 3.5 for any n. In normal samples that
///             names some unit in 9 % to 14 % of fleets, for each trait; the threshold here follows
///             the 99th per cent of the largest score of 40,000 simulated normal samples, n from 8
///             to 200, to within 0.4 (n = 9: 1.3).
/// Input:      a unit's uncertainty is that of its notes; what a bench adds to all units alike moves
///             them together, so it counts only if there are several benches.
[[nodiscard]] outliers_found find_outliers(const fleet_selection& s);

}  // namespace cvrig
