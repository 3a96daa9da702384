#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/expectations/settings.hpp"

namespace cvrig {

/// What the placeholders of a link's command stand for in one take.
struct command_context {
    std::map<std::string, std::string> names;  ///< stimulus, response and the user's own
    setting_choice choice;
    std::span<const std::filesystem::path> search_folders;
};

/// The command of a bench file made ready to run: placeholders replaced, files beside the bench
/// file and the program found. A placeholder is a letter and then letters, digits, space, _ or -
/// between braces; other braces stay as they are.
///
/// Refuses: throws user_error with the command's place for an unknown placeholder, {settings} that
///          is only part of an argument, missing {stimulus} or {response}, no such program.
[[nodiscard]] std::vector<std::string> command_for(const program_link_settings& settings,
                                                   const command_context& context);

}  // namespace cvrig
