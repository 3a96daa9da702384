#include "console_client.hpp"

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <stdexcept>

namespace live {
namespace {

int open_tcp(const std::string& host, const std::string& port) {
    const int wire = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(static_cast<std::uint16_t>(std::stoi(port)));
    ::inet_pton(AF_INET, host.c_str(), &address.sin_addr);
    if (::connect(wire, reinterpret_cast<sockaddr*>(&address), sizeof address) == 0) return wire;
    ::close(wire);
    return -1;
}

}  // namespace

console_client::console_client(const std::string& address) {
    const auto colon = address.find(':');
    wire_ = address.front() == '/' || colon == std::string::npos
                ? ::open(address.c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC)
                : open_tcp(address.substr(0, colon), address.substr(colon + 1));
    if (wire_ < 0) throw std::runtime_error("no console at " + address);
}

console_client::~console_client() {
    ::close(wire_);
}

void console_client::send(const std::string& line) {
    const std::string bytes = line + "\n";
    if (::write(wire_, bytes.data(), bytes.size()) != static_cast<ssize_t>(bytes.size())) {
        hung_up_ = true;
    }
}

std::optional<std::string> console_client::receive(std::chrono::milliseconds at_most) {
    using clock = std::chrono::steady_clock;
    const auto end = clock::now() + at_most;
    for (;;) {
        const auto newline = arrived_.find('\n');
        if (newline != std::string::npos) {
            auto line = arrived_.substr(0, newline);
            arrived_.erase(0, newline + 1);
            return line;
        }
        const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(end - clock::now());
        if (left.count() <= 0 || hung_up_) return std::nullopt;
        pollfd watched{wire_, POLLIN, 0};
        if (::poll(&watched, 1, static_cast<int>(left.count())) <= 0) continue;
        std::array<char, 1024> piece{};
        const auto count = ::read(wire_, piece.data(), piece.size());
        if (count <= 0) hung_up_ = true;
        if (count > 0) arrived_.append(piece.data(), static_cast<std::size_t>(count));
    }
}

std::string console_client::ask(const std::string& line) {
    send(line);
    return receive().value_or("(nothing)");
}

}  // namespace live
