#include "rig/flash/step_command.hpp"

#include <fmt/format.h>

#include "rig/console/port.hpp"
#include "rig/console/serial_ports.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/link/placeholders.hpp"
#include "rig/platform/process.hpp"

namespace cvrig {

namespace {

[[noreturn]] void refuse(const bench_step& step, std::string sentence) {
    throw user_error{std::vector{complaint{step.where, std::move(sentence)}}};
}

std::string port_for(const bench_step& step, const std::optional<console_settings>& console) {
    if (!console) refuse(step, "{port} is the console's serial port, and there is no console.");
    auto found = path_of_port(*console);
    if (!found.path.empty()) return found.path;
    refuse(step, fmt::format("There is no {{port}} to flash through: the console ({}) cannot be "
                             "used: {}.",
                             port_in_words(*console), found.problem));
}

std::string known_names(const std::map<std::string, std::string>& names) {
    std::string text;
    for (const auto& [name, unused] : names) text += fmt::format("{{{}}}, ", name);
    return text + "{port} of a flash step";
}

}  // namespace

std::vector<std::string> command_of(const bench_step& step,
                                    const std::map<std::string, std::string>& names,
                                    const std::optional<console_settings>& console,
                                    std::span<const std::filesystem::path> search_folders) {
    const auto value_of = [&](const std::string& name) -> std::string {
        if (const auto found = names.find(name); found != names.end()) return found->second;
        if (name == "port") return port_for(step, console);
        refuse(step, fmt::format("Nothing is known as {{{0}}}; say what it stands for, as in "
                                 "--{1}, or use one of {2}.",
                                 name,
                                 name == "image" || name == "unit" ? name + " ..."
                                                                   : "with " + name + "=VALUE",
                                 known_names(names)));
    };
    std::vector<std::string> words;
    for (const auto& argument : step.command)
        words.push_back(with_placeholders(argument, value_of));
    // A path may be one that the build makes first.
    if (words.front().find('/') != std::string::npos) return words;
    const auto found = find_program(words.front(), search_folders);
    if (!found)
        refuse(step, fmt::format("There is no program {}; check its name, or give its path as seen "
                                 "from the step's folder.",
                                 cvrig::quoted(words.front())));
    words.front() = std::filesystem::absolute(*found).string();
    return words;
}

}  // namespace cvrig
