#pragma once

#include "rig/console/console.hpp"
#include "rig/run/patch_check.hpp"
#include "rig/run/result.hpp"

/// What a live bench proved, as results that reports show: pass or unsure, never fail.
namespace cvrig {

/// Whether every cable leads where the bench file says.
[[nodiscard]] check_result patch_proof(const patch_result& patch);

/// Whether the module answered with an identity as the expectation file wants it.
[[nodiscard]] check_result console_proof(const console_reply& reply);

}  // namespace cvrig
