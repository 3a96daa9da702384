#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace cvrig::testing {

/// Where `document` departs from the published schema of reports; empty if it follows it.
[[nodiscard]] std::string schema_complaints(const nlohmann::json& document);

}  // namespace cvrig::testing
