#pragma once

#include <cstddef>
#include <filesystem>
#include <span>
#include <string>
#include <string_view>

namespace cvrig {

/// From now on a file that outgrows the system's limit is a failed write, not the program's end.
void survive_file_size_limits() noexcept;

/// Whether a written file must survive a power cut.
enum class durability { synced, unsynced };

/// Writes a file so that readers see either the old bytes or all of the new ones, never a part.
///
/// The bytes go to a temporary name in the same folder, which then takes the place of `file`. A
/// symbolic link keeps pointing where it did. A device or pipe is written to directly.
/// Refuses:    throws user_error that says which file and why; the old file is then unchanged and
///             no temporary file stays.
void write_file_atomically(const std::filesystem::path& file, std::span<const std::byte> bytes,
                           durability d = durability::synced);
void write_file_atomically(const std::filesystem::path& file, std::string_view text,
                           durability d = durability::synced);

/// The same for a file that must not be there yet: false, and nothing is changed, if something of
/// that name is. Two programs that choose one name at the same time cannot both get it.
[[nodiscard]] bool write_new_file(const std::filesystem::path& file, std::string_view text);

/// A new folder that goes away with everything in it.
class temporary_folder {
public:
    /// Inside `parent`, which must exist. Throws user_error if it cannot be made.
    explicit temporary_folder(const std::filesystem::path& parent);
    /// Inside the system's folder for temporary files.
    temporary_folder();
    temporary_folder(temporary_folder&& other) noexcept;
    temporary_folder& operator=(temporary_folder&&) = delete;
    temporary_folder(const temporary_folder&) = delete;
    temporary_folder& operator=(const temporary_folder&) = delete;
    ~temporary_folder();

    [[nodiscard]] const std::filesystem::path& path() const noexcept { return path_; }

private:
    std::filesystem::path path_;
};

/// SHA-256 (FIPS 180-4) as 64 lower-case hexadecimal digits.
[[nodiscard]] std::string sha256_of(std::span<const std::byte> bytes);
[[nodiscard]] std::string sha256_of(std::string_view text);

/// The same of a file's bytes. Throws user_error if it cannot be read.
[[nodiscard]] std::string sha256_of_file(const std::filesystem::path& file);

}  // namespace cvrig
