#pragma once

#include <span>
#include <string_view>

#include "rig/expectations/expectations.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// What a diagnosis says where nothing that it knows explains what was read.
inline constexpr std::string_view no_typical_pattern = "no typical pattern";

/// Says of each failed check, in one sentence, what the likeliest cause is and by which evidence.
///
/// A cause is named only if it explains what was read: with its effect taken out, what is left
/// would pass, or the readings carry its mark (a ratio of eight, one waveform of three). Where
/// several causes would do, the one with the fewest free numbers that leaves least is named
/// (Schwarz, "Estimating the dimension of a model", Annals of Statistics 6 (1978), 461-464).
/// It is a pointer for a reader, never a verdict. Results that did not fail are left alone.
void diagnose(std::span<check_result> results, const module_expectations& module);

}  // namespace cvrig
