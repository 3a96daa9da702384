#pragma once

#include <optional>
#include <span>
#include <vector>

#include "rig/checks/check.hpp"

namespace cvrig {

/// The cutoff against the volts at its jack in one choice of settings, for comparing choices.
struct curve_point {
    volts at;
    octaves cutoff;  ///< above 1 Hz
    octaves u;
};

/// The passage that each choice plays: a note whose cutoff CV stands at a few voltages over its
/// range.
[[nodiscard]] std::vector<passage> curve_passages(const check_request& request);

/// Reads it, and notes it down (check_result::noted) for check::conclude. A demand in `keys` is in
/// doubt where it cannot be read.
[[nodiscard]] check_result note_curve(const check_request& request,
                                      std::span<const heard_passage> heard,
                                      std::initializer_list<const char*> keys);

/// What was noted, from low volts to high; empty where it could not be read.
[[nodiscard]] std::vector<curve_point> curve_of(const check_result& result);

/// The volts at which a rising curve has this cutoff, along straight lines between its points and
/// beyond them; empty where the curve does not rise there.
struct equal_volts {
    volts at;
    volts u;
};
[[nodiscard]] std::optional<equal_volts> volts_for(std::span<const curve_point> curve,
                                                   octaves cutoff, octaves u);

}  // namespace cvrig
