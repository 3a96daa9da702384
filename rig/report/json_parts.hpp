#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "rig/expectations/settings.hpp"

/// What every report in JSON writes in the same way.
namespace cvrig::report {

/// A number; null if it is not finite, which JSON cannot say.
[[nodiscard]] nlohmann::ordered_json json_number(double x);
/// Texts, each on one line.
[[nodiscard]] nlohmann::ordered_json json_lines(const std::vector<std::string>& all);
/// A choice of settings, value by name.
[[nodiscard]] nlohmann::ordered_json json_settings(const setting_choice& choice);

}  // namespace cvrig::report
