#pragma once

#include <string>

namespace cvrig {

/// The time now, to the second: ISO 8601, UTC.
[[nodiscard]] std::string utc_now();

}  // namespace cvrig
