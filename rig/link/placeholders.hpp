#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <string_view>

namespace cvrig {

/// `text` with every placeholder replaced by what `value_of` says for its name. A placeholder is a
/// letter and then letters, digits, space, _ or - between braces; other braces stay as they are.
[[nodiscard]] std::string with_placeholders(
    std::string_view text, const std::function<std::string(const std::string&)>& value_of);

/// True if `text` holds a placeholder.
[[nodiscard]] bool has_placeholder(std::string_view text);

/// The file beside the bench file that an argument of a command means; the argument itself if there
/// is none. A program's name without a folder never means a file that happens to lie there.
[[nodiscard]] std::string beside_bench(const std::string& argument, bool is_program,
                                       const std::filesystem::path& bench_file);

}  // namespace cvrig
