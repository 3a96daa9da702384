#include "rig/platform/runtime_folder.hpp"

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cstdlib>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/user_folders.hpp"

namespace cvrig {

namespace fs = std::filesystem;

namespace {

/// A program without the variable (started by cron, say) must find the same folder as one with it.
fs::path folder_of_user() {
    // Not changed by any of our threads.
    const char* now = std::getenv("XDG_RUNTIME_DIR");  // NOLINT(concurrency-mt-unsafe)
    if (now != nullptr && fs::path{now}.is_absolute()) return fs::path{now} / "cvrig";
    const fs::path usual = fmt::format("/run/user/{}", ::getuid());
    std::error_code none;
    return fs::is_directory(usual, none) ? usual / "cvrig" : data_folder();
}

}  // namespace

fs::path runtime_folder() {
    const auto folder = folder_of_user();
    if (folder.empty())
        throw user_error{"No home folder is known; set HOME, XDG_DATA_HOME or XDG_RUNTIME_DIR."};
    std::error_code failed;
    fs::create_directories(folder.parent_path(), failed);
    if (::mkdir(folder.c_str(), S_IRWXU) != 0 && !fs::is_directory(folder))
        throw user_error{fmt::format(
            "The folder {} cannot be made; set XDG_RUNTIME_DIR to a folder in which you may write.",
            folder.string())};
    return folder;
}

}  // namespace cvrig
