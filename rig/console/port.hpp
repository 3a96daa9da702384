#pragma once

#include <chrono>
#include <cstddef>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <string_view>

#include "rig/bench/console_settings.hpp"
#include "rig/platform/byte_stream.hpp"

namespace cvrig {

/// An open way to the module's console. No call lasts longer than its time limit by more than a
/// moment. One thread may read while another writes.
class port {
public:
    port() = default;
    port(const port&) = delete;
    port& operator=(const port&) = delete;
    virtual ~port() = default;

    /// Waits until something has arrived, then takes what there is.
    [[nodiscard]] virtual moved_bytes read_some(std::span<char> into,
                                                std::chrono::milliseconds wait) = 0;
    [[nodiscard]] virtual moved_bytes write(std::string_view bytes,
                                            std::chrono::milliseconds wait) = 0;

    /// Under which name it was found: "/dev/ttyACM0".
    [[nodiscard]] virtual std::string name() const = 0;
    /// What else is known of its end, such as a program's last words; may be empty.
    [[nodiscard]] virtual std::string last_words() const { return {}; }
};

/// A port, or why there is none: completes "... cannot be opened: ".
struct opened_port {
    std::unique_ptr<port> open;
    std::string problem;
};

/// Each opens one kind of console, and can be tried again and again.
[[nodiscard]] opened_port open_serial_port(const console_settings& how);
[[nodiscard]] opened_port open_terminal_port(const console_settings& how);
[[nodiscard]] opened_port open_tcp_port(const console_settings& how);
[[nodiscard]] opened_port open_program_port(const console_settings& how);

/// The one that `how` asks for.
[[nodiscard]] opened_port open_port(const console_settings& how);

/// How it is called in reports: "serial port 1209:0001", "terminal /tmp/ferrule.tty".
[[nodiscard]] std::string port_in_words(const console_settings& how);

}  // namespace cvrig
