#include "rig/platform/bench_lock.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <fstream>
#include <utility>

#include "rig/expectations/user_error.hpp"

namespace cvrig {

namespace {

bool is_locked(const descriptor& file) {
    while (::flock(file.number(), LOCK_EX | LOCK_NB) != 0)
        if (errno != EINTR) return false;
    return true;
}

}  // namespace

std::optional<bench_lock> bench_lock::take(const std::filesystem::path& file,
                                           const std::string& what) {
    descriptor opened{::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600)};
    if (!opened.is_open())
        throw user_error{fmt::format("The lock {} cannot be made: {}.", file.string(),
                                     std::generic_category().message(errno))};
    if (!is_locked(opened)) return std::nullopt;
    // The file stays when the lock goes: taking it away would let two programs lock two files of one name.
    const auto text = fmt::format("{} {}\n", ::getpid(), what);
    if (::ftruncate(opened.number(), 0) != 0 ||
        ::pwrite(opened.number(), text.data(), text.size(), 0) != static_cast<ssize_t>(text.size()))
        throw user_error{fmt::format("The lock {} cannot be written: {}.", file.string(),
                                     std::generic_category().message(errno))};
    return bench_lock{std::move(opened)};
}

lock_holder holder_of(const std::filesystem::path& file) {
    lock_holder out;
    std::ifstream in{file};
    in >> out.pid >> std::ws;
    std::getline(in, out.what);
    out.lives = out.pid > 0 && (::kill(out.pid, 0) == 0 || errno == EPERM);
    return out;
}

}  // namespace cvrig
