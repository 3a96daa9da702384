#include "rig/platform/byte_stream.hpp"

#include <poll.h>
#include <pthread.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <ctime>
#include <utility>

namespace cvrig {

namespace {

using std::chrono::milliseconds;
using steady = std::chrono::steady_clock;

/// Waits for an event; false if the time is over first.
bool wait_for(int number, short event, milliseconds wait) {
    pollfd one{number, event, 0};
    const auto ms = static_cast<int>(std::clamp<long long>(wait.count(), 0, 60'000));
    return ::poll(&one, 1, ms) > 0;
}

bool only_later(int error) {
    return error == EAGAIN || error == EWOULDBLOCK || error == EINTR;
}

/// Writing to a pipe that nobody reads any more is an error here, not the program's end.
class no_pipe_signal {
public:
    no_pipe_signal() {
        ::sigemptyset(&pipe_);
        ::sigaddset(&pipe_, SIGPIPE);
        ::pthread_sigmask(SIG_BLOCK, &pipe_, &before_);
    }
    ~no_pipe_signal() {
        if (::sigismember(&before_, SIGPIPE) == 1) return;
        const timespec at_once{};
        while (::sigtimedwait(&pipe_, nullptr, &at_once) == SIGPIPE) {
        }
        ::pthread_sigmask(SIG_SETMASK, &before_, nullptr);
    }
    no_pipe_signal(const no_pipe_signal&) = delete;
    no_pipe_signal& operator=(const no_pipe_signal&) = delete;

private:
    sigset_t pipe_{};
    sigset_t before_{};
};

}  // namespace

byte_stream::byte_stream(descriptor both) : in_{std::move(both)} {}

byte_stream::byte_stream(descriptor in, descriptor out)
    : in_{std::move(in)}, out_{std::move(out)} {}

moved_bytes byte_stream::read_some(std::span<char> into, milliseconds wait) const {
    if (!in_.is_open()) return {0, true};
    if (!wait_for(in_.number(), POLLIN, wait)) return {};
    const auto n = ::read(in_.number(), into.data(), into.size());
    if (n > 0) return {static_cast<std::size_t>(n), false};
    return {0, n == 0 || !only_later(errno)};
}

moved_bytes byte_stream::write(std::string_view bytes, milliseconds wait) const {
    if (!out().is_open()) return {0, true};
    const no_pipe_signal quiet;
    const auto end = steady::now() + wait;
    moved_bytes done;
    while (done.count < bytes.size()) {
        const auto left = std::chrono::duration_cast<milliseconds>(end - steady::now());
        const auto n =
            ::write(out().number(), bytes.data() + done.count, bytes.size() - done.count);
        if (n > 0) {
            done.count += static_cast<std::size_t>(n);
        } else if (n < 0 && !only_later(errno)) {
            done.gone = true;
            return done;
        } else if (left.count() <= 0 || !wait_for(out().number(), POLLOUT, left)) {
            return done;
        }
    }
    return done;
}

}  // namespace cvrig
