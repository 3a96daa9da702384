#include "rig/platform/parent.hpp"

#include <poll.h>
#include <sys/prctl.h>
#include <unistd.h>

#include <csignal>

namespace cvrig {

void end_with_parent(int listener) noexcept {
    std::signal(SIGPIPE, SIG_IGN);
    ::prctl(PR_SET_PDEATHSIG, SIGTERM);
    // It may have ended before that. The signal goes to the program, not to this thread: another one
    // waits for it (interrupts).
    pollfd one{listener, 0, 0};
    if (::poll(&one, 1, 0) > 0 && (one.revents & (POLLERR | POLLHUP | POLLNVAL)) != 0)
        ::kill(::getpid(), SIGTERM);
}

int parent_number() noexcept {
    return ::getppid();
}

int own_number() noexcept {
    return ::getpid();
}

}  // namespace cvrig
