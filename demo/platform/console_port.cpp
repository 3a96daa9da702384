#include "demo/platform/console_port.hpp"

#include "demo/platform/pseudo_terminal.hpp"
#include "demo/platform/serial_device.hpp"
#include "demo/platform/tcp_port.hpp"
#include "demo/user_mistake.hpp"

#include <array>
#include <cerrno>

namespace ferrule {
namespace {

constexpr std::size_t most_unsent_bytes = 65536;

}  // namespace

std::string console_port::read() {
    std::string arrived;
    if (!is_here_ || !is_connected()) {
        unsent_.clear();
        return arrived;
    }
    std::array<char, 4096> piece{};
    const auto count = ::read(wire(), piece.data(), piece.size());
    if (count > 0) {
        arrived.assign(piece.data(), static_cast<std::size_t>(count));
    } else if (count == 0 || (errno != EAGAIN && errno != EINTR)) {
        // What it has not taken is not for the next.
        hung_up();
        unsent_.clear();
    }
    if (is_heard()) send();
    return arrived;
}

void console_port::send() {
    while (!unsent_.empty()) {
        const auto count = ::write(wire(), unsent_.data(), unsent_.size());
        if (count <= 0) return;
        unsent_.erase(0, static_cast<std::size_t>(count));
    }
}

void console_port::write(std::string_view bytes) {
    if (!is_here_ || !is_heard()) return;
    if (unsent_.size() + bytes.size() <= most_unsent_bytes) unsent_ += bytes;
    send();
}

void console_port::vanish() {
    is_here_ = false;
    unsent_.clear();
    close();
}

void console_port::appear(const std::string& name) {
    open(name.empty() ? name_ : name);
    is_here_ = true;
}

std::unique_ptr<console_port> open_console_port(std::string_view where) {
    const auto colon = where.find(':');
    const auto kind = where.substr(0, colon);
    const std::string name{colon == std::string_view::npos ? "" : where.substr(colon + 1)};
    std::unique_ptr<console_port> port;
    if (kind == "pty") port = std::make_unique<pseudo_terminal>();
    if (kind == "tcp") port = std::make_unique<tcp_port>();
    if (kind == "serial") port = std::make_unique<serial_device>();
    if (!port || name.empty()) {
        throw user_mistake("\"" + std::string{where} +
                           "\" is no console; say pty:LINK, tcp:PORT or serial:DEVICE.");
    }
    port->appear(name);
    return port;
}

}  // namespace ferrule
