#include "rig/link/command.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <system_error>

#include "rig/expectations/user_error.hpp"
#include "rig/link/placeholders.hpp"
#include "rig/platform/process.hpp"

namespace cvrig {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view settings_word = "{settings}";

std::string known_names(const command_context& context) {
    std::string text{settings_word};
    for (const auto& [name, unused] : context.names) text += fmt::format(", {{{}}}", name);
    return text;
}

class expander {
public:
    expander(const program_link_settings& settings, const command_context& context)
        : settings_{settings}, context_{context} {}

    std::vector<std::string> run() {
        if (settings_.command.empty()) complain("the command is empty; name a program");
        for (const char* needed : {"{stimulus}", "{response}"})
            if (!is_used(needed))
                complain(
                    fmt::format("the command does not use {}; without it the program does not "
                                "know which file is meant",
                                needed));
        std::vector<std::string> words;
        for (const auto& argument : settings_.command) {
            if (argument == settings_word) {
                for (const auto& [name, v] : context_.choice)
                    words.push_back(fmt::format("{}={}", name, v));
            } else {
                words.push_back(
                    beside_bench(replaced(argument), words.empty(), settings_.where.file));
            }
        }
        if (!complaints_.empty()) throw user_error{complaints_};
        words.front() = program(words.front());
        return words;
    }

private:
    void complain(std::string sentence) {
        complaints_.push_back({settings_.where, std::move(sentence)});
    }

    [[nodiscard]] bool is_used(std::string_view word) const {
        return std::any_of(settings_.command.begin(), settings_.command.end(),
                           [&](const auto& a) { return a.find(word) != std::string::npos; });
    }

    std::string replaced(std::string_view argument) {
        return with_placeholders(argument,
                                 [this](const std::string& name) { return value_of(name); });
    }

    std::string value_of(const std::string& name) {
        const auto found = context_.names.find(name);
        if (found != context_.names.end()) return found->second;
        if (name == "settings")
            complain("{settings} must be an argument of its own, since it stands for several");
        else
            complain(
                fmt::format("nothing is known as {{{0}}}; say what it stands for, as in --with "
                            "{0}=VALUE, or use one of {1}",
                            name, known_names(context_)));
        return {};
    }

    std::string program(const std::string& name) {
        const auto found = find_program(name, context_.search_folders);
        std::error_code failed;
        if (found && fs::exists(*found, failed)) return found->string();
        complain(
            fmt::format("there is no program '{}'; check its name, or give its path relative "
                        "to the bench file",
                        name));
        throw user_error{complaints_};
    }

    const program_link_settings& settings_;
    const command_context& context_;
    std::vector<complaint> complaints_;
};

}  // namespace

std::vector<std::string> command_for(const program_link_settings& settings,
                                     const command_context& context) {
    return expander{settings, context}.run();
}

}  // namespace cvrig
