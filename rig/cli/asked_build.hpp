#pragma once

#include <string>

#include "rig/cli/commands.hpp"
#include "rig/cli/describe_run.hpp"

namespace cvrig {

/// Throws user_error if an image is named and is not there.
void require_image(const std::string& image);

/// Which unit and build the arguments name; a build is called as its image if nobody says otherwise.
[[nodiscard]] run_identity identity_of(const run_arguments& a);

}  // namespace cvrig
