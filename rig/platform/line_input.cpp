#include "rig/platform/line_input.hpp"

#include <poll.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <climits>

namespace cvrig {

namespace {

constexpr int poll_ms = 50;
constexpr std::size_t longest = 4096;

}  // namespace

typed_line line_input::next(const std::stop_token& stop) {
    for (;;) {
        if (const auto end = held_.find('\n'); end != std::string::npos) {
            auto line = held_.substr(0, end);
            held_.erase(0, end + 1);
            if (!line.empty() && line.back() == '\r') line.pop_back();
            return {typed_line::end::line, std::move(line)};
        }
        if (held_.size() > longest) held_.clear();
        if (stop.stop_requested()) return {typed_line::end::stopped, {}};
        pollfd one{descriptor_, POLLIN, 0};
        if (::poll(&one, 1, poll_ms) <= 0) continue;
        std::array<char, 256> chunk{};
        const auto n = ::read(descriptor_, chunk.data(), chunk.size());
        if (n > 0) {
            held_.append(chunk.data(), static_cast<std::size_t>(n));
        } else if (n == 0 || (errno != EINTR && errno != EAGAIN)) {
            return {typed_line::end::closed, {}};
        }
    }
}

void line_input::forget_what_was_typed() {
    if (::isatty(descriptor_) == 0) return;
    held_.clear();
    ::tcflush(descriptor_, TCIFLUSH);
}

void write_text(int descriptor, const std::string& text) {
    std::size_t done = 0;
    while (done < text.size()) {
        const auto n = ::write(descriptor, text.data() + done, text.size() - done);
        if (n > 0) {
            done += static_cast<std::size_t>(n);
        } else if (errno == EAGAIN) {
            pollfd one{descriptor, POLLOUT, 0};
            if (::poll(&one, 1, 1000) <= 0) return;
        } else if (errno != EINTR) {
            return;
        }
    }
}

bool write_line(int descriptor, const std::string& line, std::chrono::milliseconds wait) {
    const auto until = std::chrono::steady_clock::now() + wait;
    std::size_t done = 0;
    while (done < line.size()) {
        const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(
            until - std::chrono::steady_clock::now());
        pollfd one{descriptor, POLLOUT, 0};
        if (left.count() <= 0 || ::poll(&one, 1, static_cast<int>(left.count())) == 0) return false;
        if ((one.revents & (POLLERR | POLLNVAL)) != 0) return false;
        // No more than a pipe that is ready takes at once (POSIX: PIPE_BUF).
        const auto n = ::write(descriptor, line.data() + done,
                               std::min<std::size_t>(PIPE_BUF, line.size() - done));
        if (n > 0) done += static_cast<std::size_t>(n);
        if (n < 0 && errno != EAGAIN && errno != EINTR) return false;
    }
    return true;
}

}  // namespace cvrig
