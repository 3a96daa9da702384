#pragma once

#include <string>
#include <string_view>

namespace cvrig {

/// A text as a part of a file's name: letters and digits of ASCII and "-=,." stay, a blank becomes
/// "_", anything else "-". Where that hides what was there, a few digits of the text's SHA-256 follow,
/// so that two texts have two names whatever language they are in.
[[nodiscard]] std::string plain_name(std::string_view text);

}  // namespace cvrig
