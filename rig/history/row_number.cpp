#include "rig/history/row_number.hpp"

#include <charconv>

namespace cvrig::history {

std::optional<std::int64_t> row_number(std::string_view text) noexcept {
    std::int64_t n = 0;
    const auto* end = text.data() + text.size();
    const auto read = std::from_chars(text.data(), end, n);
    if (read.ec != std::errc{} || read.ptr != end || n < 1) return std::nullopt;
    return n;
}

}  // namespace cvrig::history
