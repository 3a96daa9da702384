#include "demo/platform/pseudo_terminal.hpp"

#include "demo/user_mistake.hpp"

#include <fcntl.h>
#include <poll.h>
#include <termios.h>

#include <cstdlib>
#include <filesystem>

namespace ferrule {
namespace {

constexpr int quietly = O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC;

/// Under a temporary name first, so that the link is never missing while it changes.
void point_at(const std::string& link, const std::string& terminal) {
    const std::string half = link + ".part";
    std::error_code ignored;
    std::filesystem::remove(half, ignored);
    try {
        std::filesystem::create_symlink(terminal, half);
        std::filesystem::rename(half, link);
    } catch (const std::filesystem::filesystem_error&) {
        throw user_mistake("The link " + link +
                           " to the console cannot be made; is its folder "
                           "there, and may it be written?");
    }
}

}  // namespace

pseudo_terminal::~pseudo_terminal() {
    pseudo_terminal::close();
}

void pseudo_terminal::open(const std::string& name) {
    master_ = descriptor{::posix_openpt(quietly)};
    if (!master_.is_open() || ::grantpt(master_.number()) != 0 ||
        ::unlockpt(master_.number()) != 0) {
        throw user_mistake("The system has no pseudo-terminal left for the console.");
    }
    terminal_ = ::ptsname(master_.number());
    const descriptor end{::open(terminal_.c_str(), quietly)};
    termios raw{};
    if (::tcgetattr(end.number(), &raw) != 0) {
        throw user_mistake("The pseudo-terminal " + terminal_ + " cannot be opened.");
    }
    ::cfmakeraw(&raw);
    ::tcsetattr(end.number(), TCSANOW, &raw);
    point_at(name, terminal_);
    name_ = name;
    met_ = false;
    // From here on, with nobody at the other end, the system reports a hang-up.
}

void pseudo_terminal::close() {
    std::error_code error;
    if (std::filesystem::read_symlink(name_, error) == terminal_ && !error) {
        std::filesystem::remove(name_, error);
    }
    master_.close();
    met_ = false;
}

bool pseudo_terminal::is_connected() {
    pollfd watched{master_.number(), POLLIN, 0};
    if (::poll(&watched, 1, 0) < 0) return met_;
    const bool gone = (watched.revents & POLLHUP) != 0;
    // Whoever sent a line and left at once is still heard.
    if (gone && (watched.revents & POLLIN) == 0) hung_up();
    if (!gone) met_ = true;
    return !gone || (watched.revents & POLLIN) != 0;
}

bool pseudo_terminal::is_heard() {
    pollfd watched{master_.number(), POLLIN, 0};
    return ::poll(&watched, 1, 0) >= 0 && (watched.revents & POLLHUP) == 0;
}

void pseudo_terminal::hung_up() {
    if (met_) forget_unread();
    met_ = false;
}

/// The next to open it must not read what was meant for the one before.
void pseudo_terminal::forget_unread() const {
    const descriptor end{::open(terminal_.c_str(), quietly)};
    if (end.is_open()) ::tcflush(end.number(), TCIFLUSH);
}

}  // namespace ferrule
