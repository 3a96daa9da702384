#include "rig/platform/followed_program.hpp"

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <csignal>
#include <system_error>
#include <utility>

#include "rig/platform/descriptor.hpp"
#include "rig/platform/spawn.hpp"

namespace cvrig {

namespace {

using std::chrono::milliseconds;

constexpr std::size_t kept = 4000;
constexpr std::size_t longest_line = 1'000'000;

/// Bounded a call, since it may speak faster than we listen.
void listen(byte_stream& from, std::string& into) {
    std::array<char, 16384> chunk{};
    const auto got = from.read_some(chunk, milliseconds{0});
    if (got.gone) from = byte_stream{};
    into.append(chunk.data(), got.count);
    if (into.size() > kept) into.erase(0, into.size() - kept);
}

}  // namespace

followed_program::followed_program(std::span<const std::string> argv, std::span<const int> shared,
                                   std::vector<std::string> variables) {
    std::array<int, 2> ends{};
    if (::pipe2(ends.data(), O_CLOEXEC) != 0)
        throw std::system_error{errno, std::generic_category(), "making a pipe"};
    descriptor reading{ends[0]};
    const descriptor writing{ends[1]};
    ::fcntl(reading.number(), F_SETFL, O_NONBLOCK);
    std::vector<int> all{writing.number()};
    all.insert(all.end(), shared.begin(), shared.end());
    auto child = start_process(argv, {.input = program_input::pipe,
                                      .shared = std::move(all),
                                      .variables = std::move(variables)});
    if (child.error != 0) {
        problem_ = why_not_started(child.error);
        return;
    }
    pid_ = child.pid;
    told_ = byte_stream{std::move(reading)};
    in_ = byte_stream{descriptor{}, std::move(child.in)};
    out_ = byte_stream{std::move(child.out)};
    err_ = byte_stream{std::move(child.err)};
}

followed_program::~followed_program() {
    if (pid_ <= 0 || end_) return;
    kill();
    while (!end()) ::usleep(1000);
}

std::vector<std::string> followed_program::lines(milliseconds wait) {
    std::vector<std::string> out;
    std::array<char, 65536> chunk{};
    const auto got = told_.read_some(chunk, wait);
    // A stream that is gone would be told at once, again and again.
    if (got.gone) ::usleep(static_cast<useconds_t>(wait.count() * 1000 / 10));
    half_line_.append(chunk.data(), got.count);
    std::size_t begin = 0;
    for (auto at = half_line_.find('\n'); at != std::string::npos;
         at = half_line_.find('\n', begin)) {
        out.push_back(half_line_.substr(begin, at - begin));
        begin = at + 1;
    }
    half_line_.erase(0, begin);
    if (half_line_.size() > longest_line) half_line_.clear();
    listen(out_, said_);
    listen(err_, complaints_);
    return out;
}

void followed_program::write(std::string_view text) const {
    static_cast<void>(in_.write(text, milliseconds{100}));
}

void followed_program::interrupt() const noexcept {
    if (pid_ > 0 && !end_) ::kill(pid_, SIGINT);
}

void followed_program::kill() const noexcept {
    if (pid_ > 0 && !end_) ::kill(-pid_, SIGKILL);
}

std::optional<program_end> followed_program::end() {
    if (end_ || pid_ <= 0) return end_;
    siginfo_t info{};
    // Its number stays taken until it is reaped, so that the rest of its group can be named.
    if (::waitid(P_PID, static_cast<id_t>(pid_), &info, WEXITED | WNOHANG | WNOWAIT) != 0 ||
        info.si_pid != pid_)
        return std::nullopt;
    kill();
    int status = 0;
    while (::waitpid(pid_, &status, 0) < 0 && errno == EINTR) {
    }
    end_ = program_end{WIFEXITED(status), WIFEXITED(status) ? WEXITSTATUS(status) : 0,
                       WIFSIGNALED(status) ? WTERMSIG(status) : 0};
    listen(out_, said_);
    listen(err_, complaints_);
    return end_;
}

}  // namespace cvrig
