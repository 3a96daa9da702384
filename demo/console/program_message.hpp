#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace ferrule {

/// One command or query of a program message (IEEE 488.2-1992, chapter 7).
struct message_unit {
    std::string header;  ///< as it was written, without the question mark
    bool query = false;
    std::vector<std::string> parameters;
};

/// The units of a line, which semicolons divide; a semicolon within quotes does not.
[[nodiscard]] std::vector<message_unit> read_message(std::string_view line);

}  // namespace ferrule
