#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>

namespace cvrig::evidence {

/// One file that goes into an archive.
struct archive_source {
    std::string name;            ///< in the archive; ASCII, with '/' between folders
    std::filesystem::path file;  ///< where its bytes are now
};

/// Writes a ZIP file (ISO/IEC 21320-1: stored or deflated) so that equal members give equal bytes:
/// in the order given, without times, owners or rights. The file gets its name only when it is complete.
///
/// Refuses: throws user_error if a member cannot be read or the file cannot be written.
void write_archive(const std::filesystem::path& to, std::span<const archive_source> members);

/// The members of a ZIP file, one after another. Nothing of it is trusted.
class archive_reader {
public:
    /// Throws user_error if there is no such file or it is no ZIP file.
    explicit archive_reader(std::filesystem::path file);
    ~archive_reader();
    archive_reader(const archive_reader&) = delete;
    archive_reader& operator=(const archive_reader&) = delete;

    /// Goes to the next member and says its name as the file has it; empty at the end. Throws user_error
    /// for a damaged file, and for a member that is no plain file (a folder, a link, a device).
    [[nodiscard]] std::optional<std::string> next();

    /// The member's bytes, of which there may be at most `most`. Throws user_error if there are more,
    /// or if they are damaged.
    [[nodiscard]] std::string text(std::uintmax_t most);
    /// The same into a file.
    void copy_to(const std::filesystem::path& to, std::uintmax_t most);

private:
    struct state;
    std::unique_ptr<state> state_;
};

}  // namespace cvrig::evidence
