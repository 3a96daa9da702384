#pragma once

#include <span>
#include <string>
#include <string_view>

namespace ferrule {

/// A decimal number (NRf), or one in base 16, 8 or 2 after #H, #Q or #B (IEEE 488.2-1992, 7.7.2 and
/// 7.7.4). Throws command_error: data_type_error for something else, data_out_of_range outside.
[[nodiscard]] double number_parameter(std::string_view text, double low, double high);

/// Which of these mnemonics a word is; throws command_error with illegal_parameter_value.
[[nodiscard]] std::size_t word_parameter(std::string_view text,
                                         std::span<const std::string_view> mnemonics);

/// What stands between the quotes of a string (IEEE 488.2-1992, 7.7.5).
[[nodiscard]] std::string string_parameter(std::string_view text);

/// A number as NR2: "0.25".
[[nodiscard]] std::string number_answer(double value);

}  // namespace ferrule
