#pragma once

#include <string>

#include "rig/bench/bench.hpp"
#include "rig/cli/commands.hpp"
#include "rig/cli/describe_run.hpp"

namespace cvrig {

/// Throws user_error if an image is named and is not there, unless the bench's build step makes it.
void require_image(const std::string& image, const bench& b);

/// The arguments, filled up with what the bench's build step says where they say nothing: the image
/// that it makes, and how git describes the source in its folder.
[[nodiscard]] run_arguments with_build(run_arguments a, const bench& b);

/// Which unit and build the arguments name, once the image is there; a build is called as its source
/// where the bench builds, else as its image, if nobody says otherwise. Its version is what the
/// file's check "image" finds in the image.
[[nodiscard]] run_identity identity_of(const run_arguments& a, const module_expectations& m,
                                       const bench& b);

}  // namespace cvrig
