#pragma once

#include <filesystem>
#include <string>

#include "rig/service/http_server.hpp"

namespace cvrig::service {

/// A file of a run's report folder. What lies elsewhere, by whatever name or link, is not there (404).
/// A report may run its own script and load its own sounds, and nothing else.
[[nodiscard]] http_answer answer_with_file(const std::filesystem::path& folder,
                                           const std::string& name);

}  // namespace cvrig::service
