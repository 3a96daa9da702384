#pragma once

#include "rig/checks/check.hpp"

namespace cvrig {

/// Is the firmware file whole, and does the build fit? Format, checksums, the use of memory by
/// region, version. Hears nothing.
[[nodiscard]] check image_check();

}  // namespace cvrig
