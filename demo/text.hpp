#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace ferrule {

/// "name=value" in two; without an equals sign the value is empty.
[[nodiscard]] std::pair<std::string, std::string> split_at_equals(std::string_view text);

/// The pieces between commas.
[[nodiscard]] std::vector<std::string> split_at_commas(std::string_view text);

/// A finite number, or a user_mistake that names what it was for.
[[nodiscard]] double number_of(std::string_view name, std::string_view value);

/// The same, and within bounds.
[[nodiscard]] double number_of(std::string_view name, std::string_view value, double low,
                               double high);

}  // namespace ferrule
