#include "rig/platform/talking_program.hpp"

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <csignal>
#include <thread>
#include <utility>

#include "rig/platform/spawn.hpp"

namespace cvrig {

namespace {

using std::chrono::milliseconds;

bool has_ended(int pid) {
    siginfo_t info{};
    return ::waitid(P_PID, static_cast<id_t>(pid), &info, WEXITED | WNOHANG | WNOWAIT) != 0 ||
           info.si_pid == pid;
}

/// The unreaped leader keeps its group's number from being given away.
void end_group(int pid) {
    constexpr int most_steps = 20;
    constexpr milliseconds step{10};
    ::kill(-pid, SIGTERM);
    for (int i = 0; i < most_steps && !has_ended(pid); ++i) std::this_thread::sleep_for(step);
    ::kill(-pid, SIGKILL);
    int status = 0;
    while (::waitpid(pid, &status, 0) < 0 && errno == EINTR) {
    }
}

}  // namespace

talking_program::talking_program(std::span<const std::string> argv) {
    auto child = start_process(argv, {.input = program_input::pipe});
    if (child.error != 0) {
        problem_ = why_not_started(child.error);
        return;
    }
    pid_ = child.pid;
    stream_ = byte_stream{std::move(child.out), std::move(child.in)};
    complaining_ = byte_stream{std::move(child.err)};
}

talking_program::~talking_program() {
    if (pid_ > 0) end_group(pid_);
}

moved_bytes talking_program::read_some(std::span<char> into, milliseconds wait) {
    constexpr milliseconds last_words_time{50};
    listen_to_complaints(milliseconds{0});
    const auto got = stream_.read_some(into, wait);
    if (got.gone) listen_to_complaints(last_words_time);
    return got;
}

moved_bytes talking_program::write(std::string_view bytes, milliseconds wait) const {
    return stream_.write(bytes, wait);
}

/// Bounded a call, since it may complain faster than we listen.
void talking_program::listen_to_complaints(milliseconds wait) {
    constexpr std::size_t kept = 500;
    std::array<char, 16384> chunk{};
    const auto got = complaining_.read_some(chunk, wait);
    if (got.gone) complaining_ = byte_stream{};
    complaints_.append(chunk.data(), got.count);
    if (complaints_.size() > kept) complaints_.erase(0, complaints_.size() - kept);
}

}  // namespace cvrig
