#pragma once

#include <optional>
#include <span>

#include "rig/checks/pattern_readings.hpp"

/// What the slides of a pattern have in common, and whether one step slides or jumps.
namespace cvrig {

/// One in ten million of a normal law, one-sided, and a little more.
inline constexpr double pattern_surely = 5.3;

/// Cents that a slid step has still to go, on the mean, while its pitch is read.
[[nodiscard]] double left_cents(const pattern_step& step, const step_reading& heard,
                                const pitch_law& law);

/// By this much slides differ at most: the bench's and the module's blocks fall otherwise in each.
inline constexpr double most_u_slide_excess = 0.04;

/// What all slides of a pattern have left while they are read, over what is declared, as a share;
/// and its standard uncertainty for one of them.
struct slide_course {
    double excess{0.0}, u_share{most_u_slide_excess};
};

/// Definition: the slope of what is off against what is left, which a module out of tune only
///             shifts. None where it says that most steps do not slide as declared.
[[nodiscard]] slide_course common_slide_course(const pattern_part& part,
                                               std::span<const step_reading> heard,
                                               const pitch_law& law);

/// Whether a tied step slides, by its phase across the border; empty where one of the two answers
/// lies less than `pattern_surely` standard uncertainties from the middle between them.
[[nodiscard]] std::optional<bool> slides_by_phase(const step_reading& heard);

}  // namespace cvrig
