#pragma once

#include <nlohmann/json.hpp>
#include <span>

#include "rig/service/job.hpp"

namespace cvrig::service {

/// A job, and several, as rig/service/API.md says.
[[nodiscard]] nlohmann::ordered_json json_of(const job& j);
[[nodiscard]] nlohmann::ordered_json json_of(std::span<const job> jobs);

/// As text, whatever bytes names may hold.
[[nodiscard]] std::string text_of(const nlohmann::ordered_json& j);

}  // namespace cvrig::service
