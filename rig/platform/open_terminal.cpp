#include <fcntl.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <system_error>

#include "rig/platform/byte_stream.hpp"

namespace cvrig {

namespace {

std::string why_not(int error) {
    switch (error) {
        case ENOENT:
            return "there is no such terminal; start the module's program first";
        case EIO:
            return "nobody holds its other side; start the module's program first";
        case EACCES:
            return "you have no permission to use it";
        default:
            return std::generic_category().message(error);
    }
}

}  // namespace

opened_stream open_terminal(const std::string& path) {
    descriptor d{::open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC)};
    if (!d.is_open()) return {{}, why_not(errno)};
    termios how{};
    if (::tcgetattr(d.number(), &how) != 0) return {{}, "it is no terminal"};
    how.c_iflag &= ~static_cast<tcflag_t>(IGNBRK | BRKINT | PARMRK | ISTRIP | INLCR | IGNCR |
                                          ICRNL | IXON | IXOFF);
    how.c_oflag &= ~static_cast<tcflag_t>(OPOST);
    how.c_lflag &= ~static_cast<tcflag_t>(ECHO | ECHONL | ICANON | ISIG | IEXTEN);
    how.c_cflag = (how.c_cflag & ~static_cast<tcflag_t>(CSIZE | PARENB)) | CS8;
    how.c_cc[VMIN] = 1;
    how.c_cc[VTIME] = 0;
    if (::tcsetattr(d.number(), TCSANOW, &how) != 0) return {{}, why_not(errno)};
    return {byte_stream{std::move(d)}, {}};
}

}  // namespace cvrig
