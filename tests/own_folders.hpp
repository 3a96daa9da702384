#pragma once

#include <cstdlib>
#include <filesystem>
#include <stdexcept>
#include <string>
#include <system_error>

namespace cvrig::testing {

/// While it lives, this process and what it starts keep nothing in the user's own folders: no history,
/// no locks. A test that wants a history says so.
class own_folders {
public:
    own_folders() {
        auto name = (std::filesystem::temp_directory_path() / "cvrig-user-XXXXXX").string();
        if (::mkdtemp(name.data()) == nullptr)
            throw std::runtime_error{"no folder can be made for the tests"};
        folder_ = name;
        ::setenv("CVRIG_HISTORY", "none", 1);
        ::setenv("XDG_DATA_HOME", (folder_ / "data").c_str(), 1);
        ::setenv("XDG_RUNTIME_DIR", folder_.c_str(), 1);
    }
    ~own_folders() {
        std::error_code ignored;
        std::filesystem::remove_all(folder_, ignored);
    }
    own_folders(const own_folders&) = delete;
    own_folders& operator=(const own_folders&) = delete;

private:
    std::filesystem::path folder_;
};

}  // namespace cvrig::testing
