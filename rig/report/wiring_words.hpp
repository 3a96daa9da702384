#pragma once

#include <string>

#include "rig/bench/wiring.hpp"

/// The words that the table and the picture of the cables share.
namespace cvrig::report {

/// "Ferrule at bench desk".
[[nodiscard]] std::string wiring_title(const wiring_card& card);
/// "OUT 2", "jack left".
[[nodiscard]] std::string from_in_words(const wire& w);
[[nodiscard]] std::string to_in_words(const wire& w);
/// "OUT 2 to jack gate, 0 V or 5 V".
[[nodiscard]] std::string in_words(const wire& w);

}  // namespace cvrig::report
