#pragma once

#include <string>

namespace cvrig {

/// True if this program may read and write the file or device.
[[nodiscard]] bool may_read_and_write(const std::string& path) noexcept;

}  // namespace cvrig
