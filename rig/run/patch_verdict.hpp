#pragma once

#include "rig/run/patch_cast.hpp"
#include "rig/run/patch_routes.hpp"
#include "rig/run/patch_search.hpp"

/// From effects to sentences.
namespace cvrig::patching {

/// Cables between outputs and jacks: what is where, what is wrong, what could not be told.
void judge_search(const bench& b, const cast& who, const search_reading& found, patch_result& into);

/// Everything proven by the short test.
void accept_short_test(const bench& b, const cast& who, const short_reading& held,
                       patch_result& into);

/// Inputs at which nothing arrives.
void judge_inputs(const bench& b, const std::vector<bool>& sounds, patch_result& into);

/// Cables between the module's outputs and the inputs.
void judge_routes(const bench& b, const module_expectations& m, const route_reading& routes,
                  const std::vector<bool>& inputs_sound, patch_result& into);

}  // namespace cvrig::patching
