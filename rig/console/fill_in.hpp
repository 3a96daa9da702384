#pragma once

#include <filesystem>
#include <map>
#include <span>
#include <string>

#include "rig/bench/console_settings.hpp"

namespace cvrig {

/// The console of a bench file made ready to be opened: {name} replaced by what the run says for it
/// (in serial, terminal, tcp and program), paths made relative to the bench file, the program
/// found.
///
/// Refuses: throws user_error with the console's place for an unknown name, an address that then is
///          no host and port, no such program.
[[nodiscard]] console_settings filled_in(
    console_settings how, const std::map<std::string, std::string>& names,
    std::span<const std::filesystem::path> search_folders = {});

}  // namespace cvrig
