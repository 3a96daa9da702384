#include "rig/platform/file_watch.hpp"

#include <poll.h>
#include <sys/inotify.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <utility>

#include "rig/expectations/user_error.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;

constexpr std::uint32_t interesting = IN_CLOSE_WRITE | IN_MODIFY | IN_CREATE | IN_MOVED_TO |
                                      IN_MOVED_FROM | IN_DELETE | IN_ATTRIB | IN_DELETE_SELF |
                                      IN_MOVE_SELF | IN_ONLYDIR;
constexpr std::uint32_t folder_is_gone = IN_DELETE_SELF | IN_MOVE_SELF | IN_IGNORED;

}  // namespace

file_watch::file_watch(std::vector<fs::path> folders)
    : folders_{std::move(folders)}, events_{::inotify_init1(IN_NONBLOCK | IN_CLOEXEC)} {
    if (!events_.is_open())
        throw user_error{
            "The system watches no more folders for this user; end other programs that do."};
    watch_what_is_there();
}

void file_watch::watch_what_is_there() {
    for (const auto& folder : folders_) {
        const bool is_watched =
            std::ranges::any_of(watched_, [&](const auto& one) { return one.second == folder; });
        if (is_watched) continue;
        const int number = ::inotify_add_watch(events_.number(), folder.c_str(), interesting);
        if (number >= 0) watched_[number] = folder;
    }
}

std::set<fs::path> file_watch::changes(std::chrono::milliseconds wait) {
    watch_what_is_there();
    std::set<fs::path> out;
    pollfd one{events_.number(), POLLIN, 0};
    if (::poll(&one, 1, static_cast<int>(wait.count())) > 0) read_events(out);
    return out;
}

void file_watch::read_events(std::set<fs::path>& into) {
    alignas(inotify_event) std::array<char, 16384> bytes{};
    for (;;) {
        const auto n = ::read(events_.number(), bytes.data(), bytes.size());
        if (n <= 0) return;
        for (std::size_t at = 0; at < static_cast<std::size_t>(n);) {
            inotify_event event{};
            std::memcpy(&event, bytes.data() + at, sizeof event);
            const auto folder = watched_.find(event.wd);
            if (folder != watched_.end() && event.len > 0)
                into.insert(folder->second / (bytes.data() + at + sizeof event));
            if (folder != watched_.end() && (event.mask & folder_is_gone) != 0) {
                ::inotify_rm_watch(events_.number(), event.wd);
                watched_.erase(folder);
            }
            at += sizeof event + event.len;
        }
    }
}

}  // namespace cvrig
