#pragma once

namespace cvrig {

/// Before a socket is bound: a port whose last connections are still being wound up may be taken
/// again. One that another program listens on may not.
void allow_quick_restart(int socket) noexcept;

}  // namespace cvrig
