#include "rig/platform/user_folders.hpp"

#include <pwd.h>
#include <unistd.h>

#include <cstdlib>

namespace cvrig {

namespace {

/// A relative path there is not valid, says the specification, and is passed over.
std::filesystem::path absolute_variable(const char* name) {
    const char* text = std::getenv(name);
    if (text == nullptr) return {};
    std::filesystem::path folder{text};
    return folder.is_absolute() ? folder : std::filesystem::path{};
}

}  // namespace

std::filesystem::path data_folder() {
    if (const auto data = absolute_variable("XDG_DATA_HOME"); !data.empty()) return data / "cvrig";
    if (const auto home = absolute_variable("HOME"); !home.empty())
        return home / ".local" / "share" / "cvrig";
    return {};
}

std::string login_name() {
    const passwd* entry = ::getpwuid(::getuid());
    return entry != nullptr && entry->pw_name != nullptr ? entry->pw_name : "";
}

}  // namespace cvrig
