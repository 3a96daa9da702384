#pragma once

#include <string>

namespace cvrig {

/// Tells the service manager that started this program, if one did and wants to know (the protocol of
/// sd_notify(3): a datagram to the socket that NOTIFY_SOCKET names). `state` is "READY=1" or
/// "STOPPING=1". What cannot be told is not told.
void tell_supervisor(const std::string& state) noexcept;

}  // namespace cvrig
