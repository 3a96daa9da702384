#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "rig/evidence/scrub.hpp"

namespace cvrig::evidence {

/// How a run calls the console that it really opened, in `text`: whatever follows "console on " or "console: " to
/// the end of the line, or stands in brackets after "The console", if it names one as port_in_words() does; and
/// the port that a console's log says is open. The bench file need not know it: it may say
/// {desk}, and the command line what that stands for.
[[nodiscard]] std::vector<std::string> consoles_told_in(std::string_view text);

/// The same of every text in a record such as a report. Nothing for what is no JSON.
[[nodiscard]] std::vector<std::string> consoles_told_in_json(std::string_view record);

/// Adds what a console's name gives away: the host, the path, the port, the serial number.
void add_console(private_names& to, std::string_view console);

}  // namespace cvrig::evidence
