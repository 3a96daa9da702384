#include "rig/platform/files.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <system_error>
#include <utility>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/descriptor.hpp"

namespace cvrig {
namespace {

namespace fs = std::filesystem;

fs::path folder_of(const fs::path& file) {
    return file.has_parent_path() ? file.parent_path() : fs::path{"."};
}

std::string reason_of(int error, const fs::path& file) {
    const auto folder = folder_of(file).string();
    std::error_code ignored;
    switch (error) {
        case ENOENT:
            return fmt::format("the folder '{}' does not exist; create it first", folder);
        case ENOTDIR:
            return fmt::format("'{}' is not a folder; choose another place", folder);
        case EISDIR:
            return "it is a folder; choose a file name";
        case EACCES:
        case EPERM:
            return fmt::format("you have no permission to write in '{}'; choose another place",
                               folder);
        case EROFS:
            return fmt::format("'{}' can only be read; choose another place", folder);
        case ENOSPC:
        case EDQUOT:
            return "the disk is full; free some space";
        case EFBIG:
            return "it would be larger than the system allows";
        default:
            return std::generic_category().message(error);
    }
}

[[noreturn]] void refuse_to_write(const fs::path& file, int error) {
    throw user_error{fmt::format("cannot write '{}': {}", file.string(), reason_of(error, file))};
}

/// 0, or the errno of the first failure.
int write_all(const descriptor& to, std::span<const std::byte> bytes) {
    while (!bytes.empty()) {
        const ssize_t n = ::write(to.number(), bytes.data(), bytes.size());
        if (n < 0 && errno == EINTR) continue;
        if (n < 0) return errno;
        bytes = bytes.subspan(static_cast<std::size_t>(n));
    }
    return 0;
}

/// A temporary file beside its target, removed unless it was moved into place.
class unfinished_file {
public:
    explicit unfinished_file(const fs::path& target) : target_{target} {
        constexpr int most_tries = 1000;
        for (int i = 0; i < most_tries && !file_.is_open(); ++i) {
            path_ = folder_of(target) / fmt::format(".cvrig-{}-{}.part", ::getpid(), i);
            file_ =
                descriptor{::open(path_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666)};
            if (!file_.is_open() && errno != EEXIST) refuse_to_write(target, errno);
        }
        if (!file_.is_open()) refuse_to_write(target, EEXIST);
    }
    unfinished_file(const unfinished_file&) = delete;
    unfinished_file& operator=(const unfinished_file&) = delete;
    ~unfinished_file() {
        if (!in_place_) ::unlink(path_.c_str());
    }

    void write(std::span<const std::byte> bytes, durability d) {
        if (const int error = write_all(file_, bytes)) refuse_to_write(target_, error);
        if (d == durability::synced && ::fsync(file_.number()) != 0)
            refuse_to_write(target_, errno);
        if (!file_.close()) refuse_to_write(target_, errno);
    }

    void move_into_place(durability d) {
        if (::rename(path_.c_str(), target_.c_str()) != 0) refuse_to_write(target_, errno);
        in_place_ = true;
        if (d == durability::unsynced) return;
        // The name survives a power cut only with its folder; not every file system can do this.
        const descriptor folder{::open(folder_of(target_).c_str(), O_RDONLY | O_CLOEXEC)};
        if (folder.is_open()) ::fsync(folder.number());
    }

private:
    fs::path target_;
    fs::path path_;
    descriptor file_;
    bool in_place_{false};
};

void write_directly(const fs::path& device, std::span<const std::byte> bytes) {
    const descriptor file{::open(device.c_str(), O_WRONLY | O_CLOEXEC)};
    if (!file.is_open()) refuse_to_write(device, errno);
    if (const int error = write_all(file, bytes)) refuse_to_write(device, error);
}

/// Where a symbolic link leads, so that the link itself is not replaced.
fs::path followed(const fs::path& file) {
    std::error_code failed;
    if (!fs::is_symlink(file, failed)) return file;
    auto target = fs::canonical(file, failed);
    return failed ? file : target;
}

}  // namespace

void survive_file_size_limits() noexcept {
    std::signal(SIGXFSZ, SIG_IGN);
}

void write_file_atomically(const fs::path& file, std::span<const std::byte> bytes, durability d) {
    std::error_code failed;
    const auto kind = fs::status(file, failed).type();
    if (kind == fs::file_type::directory || !file.has_filename()) refuse_to_write(file, EISDIR);
    if (kind != fs::file_type::regular && fs::exists(file, failed)) {
        write_directly(file, bytes);
        return;
    }
    unfinished_file temporary{followed(file)};
    temporary.write(bytes, d);
    temporary.move_into_place(d);
}

void write_file_atomically(const fs::path& file, std::string_view text, durability d) {
    write_file_atomically(file, std::as_bytes(std::span{text}), d);
}

bool write_new_file(const fs::path& file, std::string_view text) {
    // The empty file takes the name; unlike a link in its place, every file system can do this.
    const descriptor claim{::open(file.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666)};
    if (!claim.is_open() && errno == EEXIST) return false;
    if (!claim.is_open()) refuse_to_write(file, errno);
    try {
        write_file_atomically(file, text);
    } catch (const user_error&) {
        ::unlink(file.c_str());
        throw;
    }
    return true;
}

temporary_folder::temporary_folder(const fs::path& parent) {
    auto pattern = (parent / "cvrig-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr)
        throw user_error{fmt::format("cannot make a folder for temporary files in '{}': {}",
                                     parent.string(), reason_of(errno, pattern))};
    path_ = pattern;
}

temporary_folder::temporary_folder() : temporary_folder{fs::temp_directory_path()} {}

temporary_folder::temporary_folder(temporary_folder&& other) noexcept
    : path_{std::exchange(other.path_, {})} {}

temporary_folder::~temporary_folder() {
    std::error_code ignored;
    if (!path_.empty()) fs::remove_all(path_, ignored);
}

}  // namespace cvrig
