#include "rig/platform/sockets.hpp"

#include <sys/socket.h>

namespace cvrig {

void allow_quick_restart(int socket) noexcept {
    const int yes = 1;
    ::setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
}

}  // namespace cvrig
