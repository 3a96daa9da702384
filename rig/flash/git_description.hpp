#pragma once

#include <filesystem>
#include <string>

namespace cvrig {

/// How git describes the source in `folder` (`git describe --always --dirty --tags`); empty where
/// there is no git, or no repository with a commit.
[[nodiscard]] std::string git_description(const std::filesystem::path& folder);

}  // namespace cvrig
