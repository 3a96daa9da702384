#include <fmt/format.h>

#include "rig/console/port.hpp"

namespace cvrig {

using way = console_settings::way;

opened_port open_port(const console_settings& how) {
    switch (how.how) {
        case way::serial_path:
        case way::usb:
            return open_serial_port(how);
        case way::terminal:
            return open_terminal_port(how);
        case way::tcp:
            return open_tcp_port(how);
        case way::program:
            break;
    }
    return open_program_port(how);
}

std::string port_in_words(const console_settings& how) {
    switch (how.how) {
        case way::serial_path:
            return fmt::format("serial port {}", how.path);
        case way::usb:
            return fmt::format("USB serial port {:04x}:{:04x}{}{}", how.vendor_id, how.product_id,
                               how.serial_number.empty() ? "" : ", serial number ",
                               how.serial_number);
        case way::terminal:
            return fmt::format("terminal {}", how.path);
        case way::tcp:
            return fmt::format("TCP {}", how.path);
        case way::program:
            break;
    }
    return fmt::format("program {}", how.command.empty() ? "" : how.command.front());
}

}  // namespace cvrig
