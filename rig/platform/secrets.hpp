#pragma once

#include <filesystem>
#include <string>
#include <string_view>

namespace cvrig {

/// 256 bits that nobody can guess, as 64 lower-case hexadecimal digits, from the system's generator
/// (getrandom(2)). Throws std::system_error if it has none.
[[nodiscard]] std::string unguessable();

/// Writes a file that only its owner may read (mode 0600), atomically. Throws user_error.
void write_private_file(const std::filesystem::path& file, std::string_view text);

/// Whether two texts are the same, in a time that does not tell where they differ.
[[nodiscard]] bool is_same_secret(std::string_view a, std::string_view b) noexcept;

}  // namespace cvrig
