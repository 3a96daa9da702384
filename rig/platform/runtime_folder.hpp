#pragma once

#include <filesystem>

namespace cvrig {

/// Where this user's programs keep what lives only as long as they do, with access for nobody else:
/// $XDG_RUNTIME_DIR/cvrig, else /run/user/UID/cvrig, where systemd makes that folder, else data_folder(). Made if it is not there.
///
/// Source:  XDG Base Directory Specification 0.8; a relative path counts as none.
/// Refuses: throws user_error if it cannot be made, or no home folder is known.
[[nodiscard]] std::filesystem::path runtime_folder();

}  // namespace cvrig
