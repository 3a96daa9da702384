#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "rig/expectations/expectations.hpp"
#include "rig/image/image.hpp"

namespace cvrig {

/// The version that a firmware file carries.
struct found_version {
    std::string text;   ///< the captured part, or all that matched; empty if nothing did
    std::string wrong;  ///< one sentence if there is none, or more than one
};

/// The 'version' that a file demands in its check "image"; null if it demands none.
[[nodiscard]] const text_pattern* version_pattern(const module_expectations& m);

/// Looks for texts of the image (printable characters in a row) that match `pattern` as a whole; the
/// first group, if there is one, is the version. A field that the format has for it comes first.
[[nodiscard]] found_version version_in(const firmware_image& image, const std::string& pattern);

/// A shorter text stands in any image by chance.
inline constexpr std::size_t shortest_version = 3;
[[nodiscard]] bool is_telling(std::string_view version);

/// Whether two versions are the same: letter by letter, but that a "v" or "V" before a digit at the
/// beginning counts for nothing. "v1.2.0" is "1.2.0"; "1.2" is not "1.2.0".
[[nodiscard]] bool is_same_version(std::string_view a, std::string_view b);

/// Whether one of the image's texts holds `version` by itself, not as a part of a longer one: what
/// stands before and behind it is none of letters, digits and "-_+", and no point that such a
/// character follows or precedes. A "v" as in is_same_version() may be there or not. Never for what
/// is not telling.
[[nodiscard]] bool has_version(const firmware_image& image, std::string_view version);

/// Whether a module runs an image, by the version that its identity names.
struct version_match {
    std::string wrong;  ///< one sentence: it runs another build
    std::string doubt;  ///< one sentence: why that cannot be told
};

/// The image's version is what the check "image" of `m` finds by its pattern; without one, any text
/// will do. `name` is the image's, for the sentences. Both sentences empty: it runs this image.
[[nodiscard]] version_match match_version(const firmware_image& image, const std::string& name,
                                          const module_expectations& m, const std::string& says);

}  // namespace cvrig
