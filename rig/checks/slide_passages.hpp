#pragma once

#include <string>
#include <vector>

#include "rig/checks/check.hpp"

namespace cvrig {

/// What the slide check plays. Every passage begins with a rest and a struck note on the first
/// voltage.
namespace slide_steps {
constexpr std::size_t first_note = 1, slid = 2, second_slid = 3, plain_note = 4;
}

/// The attack of the envelope; what lies before is not used for pitch.
inline constexpr seconds slide_attack{0.012};

/// The time constant that the file demands, or a usual one.
[[nodiscard]] seconds nominal_time_constant(const check_request& request);

/// The slides that the file lists.
[[nodiscard]] const std::vector<voltage_step>& slides_of(const check_request& request);

/// The listed slide whose notes are highest, so that the most periods fall into a part of it: the
/// one that is repeated, interrupted and jumped.
[[nodiscard]] const voltage_step& featured_slide(const check_request& request);

/// "0 V to 1 V".
[[nodiscard]] std::string name_of(const voltage_step& s);

/// Whether the file demands something under `key` here.
[[nodiscard]] bool demands(const check_request& request, const char* key);

/// The passages, in this order: one for each listed slide (with a plain note at its target behind
/// it), a run of two slides there and back, then, where demanded, an interrupted slide and a tied
/// step without slide.
[[nodiscard]] std::vector<passage> slide_passages(const check_request& request);

}  // namespace cvrig
