#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "analysis/units.hpp"
#include "rig/expectations/place.hpp"

namespace cvrig {

/// How the rig reaches the module's console.
struct console_settings {
    enum class way {
        serial_path,  ///< a serial port by its path
        usb,          ///< a serial port by its USB ids and perhaps its serial number
        terminal,     ///< a pseudo-terminal by its path
        tcp,          ///< host and port
        program       ///< stdin and stdout of a program
    };
    way how{way::serial_path};
    std::string path;  ///< for serial_path and terminal; else the address as the file says it
    std::uint16_t vendor_id{0}, product_id{0};
    std::string serial_number;  ///< empty: any
    std::string host;
    std::uint16_t port{0};
    std::vector<std::string> command;  ///< for program
    int baud{115200};
    std::string line_end{"\n"};  ///< sent after each line; LF, CR LF and CR all end a received one
    seconds return_time{10.0};   ///< how long a port that vanished may take to come back
    place where;
};

}  // namespace cvrig
