#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

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

}  // namespace cvrig
