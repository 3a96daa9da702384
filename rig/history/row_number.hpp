#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

namespace cvrig::history {

/// The number of a row as a user writes it: digits, from 1 on. Nothing if the text is anything else.
[[nodiscard]] std::optional<std::int64_t> row_number(std::string_view text) noexcept;

}  // namespace cvrig::history
