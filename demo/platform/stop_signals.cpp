#include "demo/platform/stop_signals.hpp"

#include <poll.h>
#include <sys/signalfd.h>
#include <sys/wait.h>
#include <time.h>

#include <array>
#include <csignal>

namespace ferrule {
namespace {

sigset_t both_signals() noexcept {
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGINT);
    sigaddset(&set, SIGTERM);
    return set;
}

}  // namespace

stop_signals::stop_signals() {
    const sigset_t set = both_signals();
    pthread_sigmask(SIG_BLOCK, &set, nullptr);
    std::signal(SIGPIPE, SIG_IGN);
    signals_ = descriptor{::signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC)};
}

bool stop_signals::came() noexcept {
    signalfd_siginfo info{};
    if (::read(signals_.number(), &info, sizeof info) > 0) came_ = true;
    return came_;
}

void stop_signals::wait(int other, std::chrono::milliseconds at_most) const noexcept {
    std::array<pollfd, 2> watched{{{signals_.number(), POLLIN, 0}, {other, POLLIN, 0}}};
    ::poll(watched.data(), watched.size(), static_cast<int>(at_most.count()));
}

void stop_self(double seconds) {
    const pid_t self = ::getpid();
    if (seconds > 0.0) {
        const pid_t first = ::fork();
        if (first == 0) {
            // The one that wakes us must not be our child, or it would stay as a zombie.
            if (::fork() == 0) {
                const auto whole = static_cast<time_t>(seconds);
                const double rest = seconds - static_cast<double>(whole);
                const timespec pause{whole, static_cast<long>(rest * 1e9)};
                ::nanosleep(&pause, nullptr);
                ::kill(self, SIGCONT);
            }
            ::_exit(0);
        }
        if (first > 0) ::waitpid(first, nullptr, 0);
    }
    ::kill(self, SIGSTOP);
}

}  // namespace ferrule
