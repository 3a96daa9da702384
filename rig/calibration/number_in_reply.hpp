#pragma once

#include <charconv>
#include <cmath>
#include <optional>
#include <string_view>

namespace cvrig {

/// A finite number that is a module's whole answer, as in "+1.25E-3" (NR1 to NR3 of IEEE 488.2-1992,
/// 8.7.2 to 8.7.4).
[[nodiscard]] inline std::optional<double> number_in_reply(std::string_view text) {
    if (text.starts_with('+')) text.remove_prefix(1);
    double number = 0.0;
    const auto* end = text.data() + text.size();
    const auto read = std::from_chars(text.data(), end, number);
    if (read.ec != std::errc{} || read.ptr != end || !std::isfinite(number)) return std::nullopt;
    return number;
}

}  // namespace cvrig
