#include "rig/expectations/explain_console.hpp"

#include <fmt/format.h>

#include <vector>

#include "rig/expectations/dimension.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

std::string asked(const dialogue_line& line) {
    return fmt::format("asks {} and wants a reply that matches {}", cvrig::quoted(line.send),
                       cvrig::quoted(*line.expect));
}

std::string rules_in_words(const console_rules& rules) {
    std::string text;
    if (rules.identity) text += fmt::format("At the start the rig {}.\n", asked(*rules.identity));
    if (rules.serial_number)
        text += fmt::format(
            "To know which unit is on the bench it {}; the first group is the serial number.\n",
            asked(*rules.serial_number));
    if (rules.no_error) text += fmt::format("After each setting it {}.\n", asked(*rules.no_error));
    if (rules.load)
        text +=
            fmt::format("After each take it {} for the processor's load.\n", asked(*rules.load));
    if (rules.memory)
        text += fmt::format("After each take it {} for the free memory.\n", asked(*rules.memory));
    if (rules.boot_banner)
        text += fmt::format(
            "A line that matches {} means that the module has restarted; during a run that fails "
            "the build.\n",
            cvrig::quoted(*rules.boot_banner));
    text += fmt::format(
        "Where the console goes away in a run, or sends more than {:g} lines in a second unasked, "
        "a "
        "restart may go unheard: then the run is unsure.\n",
        rules.unasked_lines_per_second);
    return text + fmt::format("A reply may take {}; the question is put again {}.\n",
                              show(rules.time_limit.value(), dimension::seconds),
                              rules.retries == 0   ? "not at all"
                              : rules.retries == 1 ? "once"
                                                   : fmt::format("up to {} times", rules.retries));
}

std::string settings_in_words(const module_expectations& m) {
    std::string text;
    for (const auto& s : m.settings) {
        if (!s.console) continue;
        text +=
            fmt::format("{} is set by the line {}", capitalised(s.name), cvrig::quoted(*s.console));
        text += s.confirm ? fmt::format(", and {} must then be answered with the value.\n",
                                        cvrig::quoted(*s.confirm))
                          : ".\n";
    }
    return text;
}

std::string routes_in_words(const output_route& routes) {
    std::vector<std::string> lines;
    for (const auto& [jack, line] : routes.only)
        lines.push_back(fmt::format("{} alone by {}", jack, cvrig::quoted(line)));
    return fmt::format(
        "To tell the output cables apart, the outputs sound one by one: {}; {} lets "
        "all sound again.\n",
        listed(lines), cvrig::quoted(routes.all));
}

}  // namespace

std::string explain_console(const module_expectations& m) {
    std::string text;
    if (m.console) text += rules_in_words(*m.console) + settings_in_words(m);
    if (m.routes) text += routes_in_words(*m.routes);
    if (text.empty()) return {};
    return "\nOn a bench with the module's console connected:\n" + text;
}

}  // namespace cvrig
