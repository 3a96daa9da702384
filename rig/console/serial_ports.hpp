#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "rig/bench/console_settings.hpp"

namespace cvrig {

/// A serial port of this machine. What is not known is empty.
struct serial_port_entry {
    std::string path;         ///< what a bench file calls it: "/dev/ttyACM0"
    std::string description;  ///< as the system words it
    std::optional<std::uint16_t> vendor_id, product_id;  ///< of a USB device
    std::string serial_number, manufacturer, product;
    std::string problem;  ///< why it cannot be used, one sentence; empty if it can
};

/// All serial ports, sorted by path. Opens none of them, since that would restart some modules.
/// Throws user_error if the system tells nothing.
[[nodiscard]] std::vector<serial_port_entry> serial_ports();

/// The path of a console's port, or why there is none.
struct found_path {
    std::string path;
    std::string problem;  ///< completes "... cannot be used: "
};

/// Where the port of a console on a serial port or pseudo-terminal is now; a USB device may have
/// another path each time that it comes back. Opens nothing.
[[nodiscard]] found_path path_of_port(const console_settings& how);

}  // namespace cvrig
