#pragma once

#include <span>

#include "analysis/closing_filter.hpp"
#include "rig/checks/envelope_readings.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// The long note's level with the decay that was fitted to it.
[[nodiscard]] plot held_plot(const held_course& held);

/// The releases after both gates, each with its fit.
[[nodiscard]] plot release_plot(std::span<const let_go> ends);

/// What happens to the level around a second strike.
[[nodiscard]] plot second_strike_plot(std::span<const second_strike> strikes);

/// The cutoff of the note whose filter closes, with its fit.
[[nodiscard]] plot closing_plot(const analysis::closing_filter_reading& closing);

}  // namespace cvrig
