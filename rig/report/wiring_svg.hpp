#pragma once

#include <string>

#include "rig/bench/wiring.hpp"

namespace cvrig {

/// The cables as a picture: the interface's sockets on the left, the module's jacks on the right,
/// each cable a curve with a number at both ends, a colour and a dash of its own.
///
/// One svg element with its own style, for light and dark, without ids that a page may have
/// ("wiring-..." are its own) and without anything from outside; it may stand in an HTML page or,
/// as it names its namespace, in a file. Empty for a card without cables. Foreign text is escaped.
[[nodiscard]] std::string wiring_svg(const wiring_card& card);

/// A whole page with the picture, the same as a table, notes and cautions.
[[nodiscard]] std::string wiring_page(const wiring_card& card);

}  // namespace cvrig
