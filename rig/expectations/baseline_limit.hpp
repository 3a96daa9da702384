#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "rig/expectations/quantity.hpp"
#include "rig/expectations/value.hpp"

namespace cvrig {

/// Reads a limit that follows the reading of an approved run: "within 2 cent of baseline" (either
/// way), "at most 1 dB above baseline", "at most 3 % below baseline". A tolerance in % is a part of
/// the baseline's reading, except where the quantity itself is a percentage: there it is added and
/// subtracted. A frequency also takes cents.
/// Empty if the text speaks of no baseline.
/// Refuses: other words, another dimension, a tolerance that is not above 0 (one-sided: below 0), a
///          percentage of a level in dB.
[[nodiscard]] std::optional<parsed<limit>> parse_baseline_limit(std::string_view text,
                                                                dimension unit,
                                                                std::string_view key);

/// What a demand leaves around a baseline's reading; none where it asks for a part of 0.
struct limit_sides {
    std::optional<double> lower, upper;
};
[[nodiscard]] std::optional<limit_sides> sides_about(double reading, const baseline_demand& demand);

/// "that of the baseline, give or take 2 cent", to end a sentence such as "every note is off by".
[[nodiscard]] std::string in_words(const baseline_demand& demand, dimension unit);

/// The size of the side that lies farther from 0; 0 without any side.
[[nodiscard]] double largest_size(const limit& l) noexcept;

/// `demanded` with the baseline's reading put in; `from` says where that comes from. It is left as it
/// is where that makes no limit: the reading is not finite, or a part of 0 is asked for.
[[nodiscard]] limit resolved(const limit& demanded, double reading, double standard_uncertainty,
                             std::string_view from);

}  // namespace cvrig
