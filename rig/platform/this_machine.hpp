#pragma once

#include <string>

namespace cvrig {

/// A name of this machine for a store that several share: 16 hexadecimal digits that stay the same over
/// restarts. Made of machine-id(5), which is confidential and is not told; where there is none, of the
/// host name.
[[nodiscard]] std::string this_machine();

}  // namespace cvrig
