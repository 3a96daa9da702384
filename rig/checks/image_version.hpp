#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "rig/image/image.hpp"

namespace cvrig {

/// The version that a firmware file carries.
struct found_version {
    std::string text;   ///< the captured part, or all that matched; empty if nothing did
    std::string wrong;  ///< one sentence if there is none, or more than one
};

/// Looks for texts of the image (printable characters in a row) that match `pattern` as a whole; the
/// first group, if there is one, is the version. A field that the format has for it comes first.
[[nodiscard]] found_version version_in(const firmware_image& image, const std::string& pattern);

/// Whether one of the image's texts holds `version` by itself, not as a part of a longer one.
[[nodiscard]] bool has_version(const firmware_image& image, std::string_view version);

}  // namespace cvrig
