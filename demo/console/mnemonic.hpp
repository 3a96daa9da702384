#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace ferrule {

/// Whether a word is a mnemonic in its long or its short form, whatever its case: "SYSTem" is SYST
/// or SYSTEM and nothing between (SCPI-99, volume 1, chapter 6).
[[nodiscard]] bool is_mnemonic(std::string_view mnemonic, std::string_view word) noexcept;

/// "SYSTem" -> "SYST".
[[nodiscard]] std::string short_form(std::string_view mnemonic);

/// Whether a path of words is the header of a pattern such as "SYSTem:ERRor[:NEXT]", in which nodes
/// between brackets may be left out.
[[nodiscard]] bool is_header(std::string_view pattern, const std::vector<std::string>& path);

/// The words between colons.
[[nodiscard]] std::vector<std::string> split_at_colons(std::string_view text);

}  // namespace ferrule
