#include "rig/platform/process.hpp"

#include <fmt/format.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstring>
#include <system_error>
#include <utility>

#include "rig/platform/descriptor.hpp"
#include "rig/platform/spawn.hpp"

namespace cvrig {
namespace {

using steady = std::chrono::steady_clock;
using ending = process_result::ending;

/// A century at most, which the clock can still count.
std::chrono::nanoseconds duration_of(seconds s) {
    return std::chrono::duration_cast<std::chrono::nanoseconds>(
        std::chrono::duration<double>{std::min(s.value(), 3e9)});
}

/// One stream of the program while it runs.
struct captured {
    descriptor source;
    output_tail* tail;
    std::size_t keep_bytes;

    [[nodiscard]] bool is_open() const noexcept { return source.is_open(); }

    /// Takes what is there now, at most one chunk, so that a babbling program cannot hold us here.
    /// False when nothing was there.
    bool take_some() {
        std::array<char, 16384> chunk{};
        const ssize_t n = ::read(source.number(), chunk.data(), chunk.size());
        if (n > 0) {
            append({chunk.data(), static_cast<std::size_t>(n)});
            return true;
        }
        const bool nothing_yet = n < 0 && (errno == EAGAIN || errno == EINTR);
        if (!nothing_yet) source.close();
        return false;
    }

    void append(std::string_view bytes) {
        tail->text += bytes;
        if (tail->text.size() <= 2 * keep_bytes) return;
        trim();
    }

    void trim() {
        if (tail->text.size() <= keep_bytes) return;
        const std::size_t excess = tail->text.size() - keep_bytes;
        tail->text.erase(0, excess);
        tail->left_out += excess;
    }
};

/// A running child, its output and the reasons to end it.
class supervisor {
public:
    supervisor(started_process child, const process_options& options, process_result& result)
        : pid_{child.pid},
          out_{std::move(child.out), &result.out, options.keep_bytes},
          err_{std::move(child.err), &result.err, options.keep_bytes},
          options_{options},
          result_{result},
          start_{steady::now()} {}

    void run() {
        while (!has_ended()) {
            end_if_due();
            wait_for_output();
        }
        drain();
        result_.left_children = out_.is_open() || err_.is_open();
        // The unreaped leader keeps its group's number from being given away, so this is safe.
        ::kill(-pid_, SIGKILL);
        reap();
        out_.trim();
        err_.trim();
        result_.wall = seconds{std::chrono::duration<double>(steady::now() - start_).count()};
    }

private:
    [[nodiscard]] bool has_ended() const {
        siginfo_t info{};
        const int done =
            ::waitid(P_PID, static_cast<id_t>(pid_), &info, WEXITED | WNOHANG | WNOWAIT);
        if (done != 0 && errno != EINTR)
            throw std::system_error{errno, std::generic_category(), "waiting for a program"};
        return done == 0 && info.si_pid == pid_;
    }

    void end_if_due() {
        const auto now = steady::now();
        if (!asked_to_end_) {
            if (options_.stop.stop_requested()) ask_to_end(ending::cancelled, now);
            if (now - start_ >= duration_of(options_.time_limit))
                ask_to_end(ending::timed_out, now);
        } else if (now - *asked_to_end_ >= duration_of(options_.grace)) {
            ::kill(-pid_, SIGKILL);
        }
    }

    void ask_to_end(ending why, steady::time_point now) {
        if (asked_to_end_) return;
        result_.how = why;
        asked_to_end_ = now;
        ::kill(-pid_, SIGTERM);
    }

    /// Closed pipes mean that the program is about to end, so then the wait is short.
    void wait_for_output() {
        std::array<pollfd, 2> fds{pollfd{out_.source.number(), POLLIN, 0},
                                  pollfd{err_.source.number(), POLLIN, 0}};
        const int wait_ms = out_.is_open() || err_.is_open() ? 20 : 1;
        if (::poll(fds.data(), fds.size(), wait_ms) <= 0) return;
        if (fds[0].revents != 0) out_.take_some();
        if (fds[1].revents != 0) err_.take_some();
    }

    /// What the program wrote before its end. Bounded, since something that it started may hold
    /// the pipe and babble on.
    void drain() {
        constexpr int most_chunks = 64;
        for (captured* stream : {&out_, &err_})
            for (int i = 0; i < most_chunks && stream->is_open() && stream->take_some(); ++i) {
            }
    }

    void reap() {
        int status = 0;
        while (::waitpid(pid_, &status, 0) < 0 && errno == EINTR) {
        }
        if (WIFEXITED(status)) result_.status = WEXITSTATUS(status);
        if (WIFSIGNALED(status)) result_.signal = WTERMSIG(status);
        if (asked_to_end_) return;
        result_.how = WIFSIGNALED(status) ? ending::killed_by_signal : ending::exited;
    }

    pid_t pid_;
    captured out_;
    captured err_;
    const process_options& options_;
    process_result& result_;
    steady::time_point start_;
    std::optional<steady::time_point> asked_to_end_;
};

}  // namespace

process_result run_process(std::span<const std::string> argv, const process_options& options) {
    process_result result;
    if (argv.empty()) {
        result.reason = "the command is empty";
        return result;
    }
    auto child = start_process(argv, {.input = program_input::nothing,
                                      .folder = options.folder,
                                      .as_one_stream = options.as_one_stream});
    if (child.error != 0) {
        result.reason = why_not_started(child.error);
        return result;
    }
    supervisor{std::move(child), options, result}.run();
    return result;
}

std::string signal_in_words(int signal) {
    const char* name = ::strsignal(signal);
    std::string words = name == nullptr ? "unknown signal" : name;
    if (!words.empty() && words[0] >= 'A' && words[0] <= 'Z')
        words[0] = static_cast<char>(words[0] - 'A' + 'a');
    return fmt::format("{} (signal {})", words, signal);
}

}  // namespace cvrig
