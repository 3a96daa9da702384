#pragma once

#include <string>
#include <vector>

#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// The settings of which a check plays more than one value.
[[nodiscard]] std::vector<std::string> varied_settings(const check_expectation& check);

/// The setting whose values a check compares: the one that the file names under `key`, else the one
/// that varies alone. Empty if there is no such one, which read_expectations() refuses.
[[nodiscard]] std::string compared_setting(const check_expectation& check, const std::string& key);

}  // namespace cvrig
