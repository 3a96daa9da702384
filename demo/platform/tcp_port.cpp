#include "demo/platform/tcp_port.hpp"

#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>

namespace ferrule {
namespace {

sockaddr* general(sockaddr_in& address) noexcept {
    return reinterpret_cast<sockaddr*>(&address);
}

}  // namespace

void tcp_port::open(const std::string& name) {
    const double wanted = number_of("the console's port", name, 0.0, 65535.0);
    listener_ = descriptor{::socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0)};
    const int yes = 1;
    ::setsockopt(listener_.number(), SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(static_cast<std::uint16_t>(wanted));
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof address;
    if (::bind(listener_.number(), general(address), size) != 0 ||
        ::listen(listener_.number(), 1) != 0 ||
        ::getsockname(listener_.number(), general(address), &size) != 0) {
        throw user_mistake("The port " + name +
                           " of this machine is taken; choose another with "
                           "console=tcp:PORT, or 0 for any.");
    }
    port_ = ntohs(address.sin_port);
    name_ = std::to_string(port_);
}

void tcp_port::close() {
    client_.close();
    listener_.close();
}

int tcp_port::number() const noexcept {
    return client_.is_open() ? client_.number() : listener_.number();
}

std::string tcp_port::address() const {
    return "127.0.0.1:" + std::to_string(port_);
}

bool tcp_port::is_connected() {
    if (client_.is_open()) return true;
    client_ =
        descriptor{::accept4(listener_.number(), nullptr, nullptr, SOCK_NONBLOCK | SOCK_CLOEXEC)};
    if (!client_.is_open()) return false;
    const int yes = 1;
    ::setsockopt(client_.number(), IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
    return true;
}

}  // namespace ferrule
