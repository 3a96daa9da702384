#pragma once

#include <string>

#include "rig/cli/commands.hpp"
#include "rig/cli/describe_run.hpp"

namespace cvrig {

/// Throws user_error if an image is named and is not there.
void require_image(const std::string& image);

/// Which unit and build the arguments name; a build is called as its image if nobody says otherwise,
/// and its version is what the file's check "image" finds in it.
[[nodiscard]] run_identity identity_of(const run_arguments& a, const module_expectations& m);

}  // namespace cvrig
