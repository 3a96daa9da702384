#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <tl/expected.hpp>
#include <utility>

#include "rig/expectations/dimension.hpp"

namespace cvrig {

/// What somebody asks for when a number is read: it makes the message complete.
struct wanted {
    dimension unit{dimension::ratio};
    std::string_view key;   ///< the key that holds the text
    std::string example{};  ///< such as "within 5 cent"
};

/// A number, or one sentence that says what is wrong.
template <class T>
using parsed = tl::expected<T, std::string>;

/// A number of the wanted dimension in its base unit. Says what is wrong otherwise: no number, no
/// unit, an unknown unit, another dimension, out of range, a decimal comma.
[[nodiscard]] parsed<double> parse_quantity(std::string_view text, const wanted& want);

/// A number and whatever follows it, as written: "5 cent" is {5, "cent"}.
struct numbered {
    double number;
    std::string_view rest;
};
[[nodiscard]] std::optional<numbered> split_number(std::string_view text);

/// The two sides of "A and B" or "0 V to 1 V". A unit that only the right side names holds for both
/// ("2 to 6 dB").
[[nodiscard]] std::optional<std::pair<std::string, std::string>> split_pair(
    std::string_view text, std::string_view separator);

/// "but 'error' wants an interval in cents, such as 'within 5 cent'": the end of a sentence.
[[nodiscard]] std::string what_is_wanted(const wanted& want);

/// A limit as somebody would write it for this dimension: "within 5 cent".
[[nodiscard]] std::string_view example_limit(dimension d) noexcept;

/// A quantity as somebody would write it: "0.5 V".
[[nodiscard]] std::string_view example_quantity(dimension d) noexcept;

}  // namespace cvrig
