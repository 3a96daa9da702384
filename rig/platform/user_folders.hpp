#pragma once

#include <filesystem>
#include <string>

namespace cvrig {

/// Where this user's programs keep what must stay: $XDG_DATA_HOME/cvrig, else ~/.local/share/cvrig;
/// empty if there is neither (XDG Base Directory Specification 0.8). It need not be there yet.
[[nodiscard]] std::filesystem::path data_folder();

/// The user's login name; empty if it is not known.
[[nodiscard]] std::string login_name();

}  // namespace cvrig
