#include "rig/link/command.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <system_error>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/process.hpp"

namespace cvrig {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view settings_word = "{settings}";

bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

bool is_placeholder_name(std::string_view name) {
    return !name.empty() && is_letter(name[0]) && std::all_of(name.begin(), name.end(), [](char c) {
        return is_letter(c) || (c >= '0' && c <= '9') || c == ' ' || c == '_' || c == '-';
    });
}

std::string known_names(const command_context& context) {
    std::string text{settings_word};
    for (const auto& [name, unused] : context.names) text += fmt::format(", {{{}}}", name);
    return text;
}

class expander {
public:
    expander(const program_link_settings& settings, const command_context& context)
        : settings_{settings}, context_{context}, bench_folder_{fs::path{settings.where.file}} {
        bench_folder_.remove_filename();
    }

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
                words.push_back(beside_bench(replaced(argument), words.empty()));
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
        std::string text;
        while (!argument.empty()) {
            const auto open = argument.find('{');
            text += argument.substr(0, open);
            if (open == std::string_view::npos) break;
            argument.remove_prefix(open);
            const auto close = argument.find('}');
            const auto name = close == std::string_view::npos ? std::string_view{}
                                                              : argument.substr(1, close - 1);
            const bool meant = is_placeholder_name(name);
            text += meant ? value_of(std::string{name}) : std::string{argument[0]};
            argument.remove_prefix(meant ? close + 1 : 1);
        }
        return text;
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

    /// A bare first word is a program's name, never a file that happens to lie there.
    [[nodiscard]] std::string beside_bench(std::string argument, bool is_program) const {
        const fs::path path{argument};
        const bool is_bare = argument.find('/') == std::string::npos;
        if (argument.empty() || path.is_absolute() || (is_program && is_bare)) return argument;
        std::error_code failed;
        const auto candidate = bench_folder_ / path;
        if (!fs::is_regular_file(candidate, failed)) return argument;
        const auto full = fs::absolute(candidate, failed);
        return failed ? argument : full.lexically_normal().string();
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
    fs::path bench_folder_;
    std::vector<complaint> complaints_;
};

}  // namespace

std::vector<std::string> command_for(const program_link_settings& settings,
                                     const command_context& context) {
    return expander{settings, context}.run();
}

}  // namespace cvrig
