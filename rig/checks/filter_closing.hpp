#pragma once

#include <optional>
#include <vector>

#include "analysis/closing_filter.hpp"
#include "rig/checks/check.hpp"

namespace cvrig {

/// The filter of a struck note, from 20 ms after its strike to its end: heard as of a sawtooth, and
/// if that says nothing by the odd harmonics alone, which stand alike in saw, square and any blend
/// of the two. Step `index` is the note; where its filter closes to
/// may be known.
///
/// Refuses as windowed_levels and measure_closing_filter; silent also where nothing sounds.
[[nodiscard]] analysis::outcome<analysis::closing_filter_reading> hear_closing(
    const heard_passage& heard, std::size_t index, hertz pitch,
    std::optional<analysis::known_rest> rest = {});

/// Its time constant, freed of what the filter's own delay adds.
[[nodiscard]] seconds time_constant_of(const analysis::closing_filter_reading& heard);

/// What that is uncertain by, in seconds.
[[nodiscard]] std::vector<analysis::contribution> closing_budget(
    const check_request& request, const analysis::closing_filter_reading& heard);

/// What the ratio of two of one filter's time constants, a over b, is uncertain by.
[[nodiscard]] std::vector<analysis::contribution> ratio_budget(
    const analysis::closing_filter_reading& a, const analysis::closing_filter_reading& b);

}  // namespace cvrig
