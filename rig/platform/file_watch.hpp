#pragma once

#include <chrono>
#include <filesystem>
#include <map>
#include <optional>
#include <set>
#include <vector>

#include "rig/platform/descriptor.hpp"

namespace cvrig {

/// Tells which files in folders change, as soon as the system tells (inotify).
///
/// Folders may come and go. Not every change is told: there are file systems that tell nothing, and a
/// long queue is cut; so look at the folders now and then all the same.
class file_watch {
public:
    /// Throws user_error if the system watches nothing more.
    explicit file_watch(std::vector<std::filesystem::path> folders);

    /// The files that were written, moved, made or removed since the last call; waits for the first
    /// at most that long.
    [[nodiscard]] std::set<std::filesystem::path> changes(std::chrono::milliseconds wait);

private:
    void watch_what_is_there();
    void read_events(std::set<std::filesystem::path>& into);

    std::vector<std::filesystem::path> folders_;
    descriptor events_;
    std::map<int, std::filesystem::path> watched_;
};

}  // namespace cvrig
