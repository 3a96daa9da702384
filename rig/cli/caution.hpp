#pragma once

#include <string>

namespace cvrig {

/// What is said before the first volt goes out: through which interface, what will be done, and to
/// keep loudspeakers away. Ends with a line end.
[[nodiscard]] std::string before_playing(const std::string& interface, const std::string& what);

}  // namespace cvrig
