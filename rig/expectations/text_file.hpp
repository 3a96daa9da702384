#pragma once

#include <string>

namespace cvrig {

/// The bytes of a file that a user wrote, proven to be text: UTF-8 without control characters
/// other than line ends and tabs, not empty, at most 1 MiB. A byte order mark is dropped.
///
/// Refuses: throws user_error with one sentence for a missing file, a folder, something that is no
///          ordinary file, an unreadable, too large, empty or binary file.
[[nodiscard]] std::string read_text_file(const std::string& file);

}  // namespace cvrig
