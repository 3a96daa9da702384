#pragma once

#include "demo/platform/descriptor.hpp"

#include <memory>
#include <string>
#include <string_view>

namespace ferrule {

/// One end of the wire to a computer. Nothing here ever waits: what arrives while nobody reads is
/// lost once a small buffer is full, as on a real port.
class console_port {
public:
    console_port() = default;
    console_port(const console_port&) = delete;
    console_port& operator=(const console_port&) = delete;
    virtual ~console_port() = default;

    /// What has arrived since.
    [[nodiscard]] std::string read();

    void write(std::string_view bytes);
    /// Bytes that no one has taken yet.
    [[nodiscard]] std::size_t waiting_bytes() const noexcept { return unsent_.size(); }

    /// The plug is pulled, and put back: under another name unless that is empty.
    void vanish();
    void appear(const std::string& name);

    /// What to wait on for arriving bytes; negative while nobody can send any.
    [[nodiscard]] virtual int number() const noexcept = 0;

    /// Where the other end is: "/dev/pts/3", "127.0.0.1:5025".
    [[nodiscard]] virtual std::string address() const = 0;

protected:
    /// Opens under the name; throws user_mistake.
    virtual void open(const std::string& name) = 0;
    virtual void close() = 0;
    /// Whether someone is at the other end; notices who comes and goes.
    virtual bool is_connected() = 0;
    /// Whether someone is there to read; who has just left may still be heard.
    virtual bool is_heard() { return is_connected(); }
    /// The other end has gone.
    virtual void hung_up() = 0;
    [[nodiscard]] virtual int wire() const noexcept = 0;

    std::string name_;

private:
    void send();

    bool is_here_ = true;
    std::string unsent_;
};

/// "pty:LINK" is a pseudo-terminal with a symbolic link to it, "tcp:PORT" listens on 127.0.0.1 (0:
/// any free port), "serial:DEVICE" is a character device. Throws user_mistake.
[[nodiscard]] std::unique_ptr<console_port> open_console_port(std::string_view where);

}  // namespace ferrule
