#include "tests/support/child_program.hpp"

#include <fcntl.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <csignal>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <system_error>

namespace cvrig::test_support {
namespace {

using namespace std::chrono_literals;

descriptor open_log(const std::filesystem::path& path) {
    constexpr mode_t for_us = 0600;
    descriptor log{::open(path.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, for_us)};
    if (!log.is_open()) throw std::runtime_error(path.string() + " cannot be written");
    return log;
}

std::string text_of(const std::filesystem::path& path) {
    std::ostringstream text;
    text << std::ifstream{path}.rdbuf();
    return text.str();
}

std::filesystem::path with_ending(std::filesystem::path log, const char* ending) {
    return log += ending;
}

/// In the child: nothing but system calls until it is another program.
[[noreturn]] void become(char* const* argv, pid_t parent, std::array<int, 3> streams) {
    // A server that is asked to end frees what it holds of the machine; a killed one does not.
    ::prctl(PR_SET_PDEATHSIG, SIGTERM);
    if (::getppid() != parent) ::_exit(127);
    for (int i = 0; i < 3; ++i) ::dup2(streams[static_cast<std::size_t>(i)], i);
    ::close_range(3, ~0U, 0);
    sigset_t none;
    sigemptyset(&none);
    ::sigprocmask(SIG_SETMASK, &none, nullptr);
    std::signal(SIGPIPE, SIG_DFL);
    ::execvp(argv[0], argv);
    ::_exit(127);
}

}  // namespace

child_program::child_program(const std::vector<std::string>& argv, std::filesystem::path log)
    : log_{std::move(log)} {
    std::array<int, 2> ends{};
    if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends.data()) != 0) {
        throw std::system_error(errno, std::generic_category(), "a pair of sockets");
    }
    input_ = descriptor{ends[0]};
    const descriptor theirs{ends[1]};
    const auto out = open_log(with_ending(log_, ".out"));
    const auto err = open_log(with_ending(log_, ".err"));
    std::vector<std::string> words = argv;
    std::vector<char*> raw;
    for (auto& word : words) raw.push_back(word.data());
    raw.push_back(nullptr);
    const pid_t self = ::getpid();
    pid_ = ::fork();
    if (pid_ == 0) become(raw.data(), self, {theirs.number(), out.number(), err.number()});
    if (pid_ < 0) throw std::system_error(errno, std::generic_category(), "starting a program");
}

child_program::~child_program() {
    end();
}

bool child_program::runs() {
    int how = 0;
    if (!ended_ && ::waitpid(pid_, &how, WNOHANG) == pid_) {
        ended_ = true;
        status_ = WIFSIGNALED(how) ? -WTERMSIG(how) : WEXITSTATUS(how);
    }
    return !ended_;
}

void child_program::send(int signal) {
    if (runs()) ::kill(pid_, signal);
}

bool child_program::write_line(const std::string& line) {
    const std::string bytes = line + "\n";
    return ::send(input_.number(), bytes.data(), bytes.size(), MSG_NOSIGNAL) ==
           static_cast<ssize_t>(bytes.size());
}

std::string child_program::out() const {
    return text_of(with_ending(log_, ".out"));
}

std::string child_program::all() const {
    return out() + text_of(with_ending(log_, ".err"));
}

bool child_program::ends_within(std::chrono::milliseconds wait) {
    const auto limit = std::chrono::steady_clock::now() + wait;
    while (runs() && std::chrono::steady_clock::now() < limit) std::this_thread::sleep_for(2ms);
    return !runs();
}

bool child_program::end() {
    send(SIGTERM);
    send(SIGCONT);
    if (ends_within(3s)) return status_ >= 0;
    send(SIGKILL);
    ends_within(10s);
    return false;
}

}  // namespace cvrig::test_support
